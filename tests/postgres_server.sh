#!/bin/sh
# Starts and stops a PostgreSQL server for the tests: loopback only, a port and a folder of its own.
#   tests/postgres_server.sh start FOLDER   prints the URL for RPD_TEST_POSTGRES_URL
#   tests/postgres_server.sh stop FOLDER    and takes the folder away
#   tests/postgres_server.sh halt FOLDER    stops it at once, as a crash would; resume starts it again
# initdb refuses root; run by root, the server runs as the user postgres.
set -eu

bin=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)
if [ -z "$bin" ]; then
    bin=$(dirname "$(command -v initdb 2>/dev/null || true)")
fi
if [ ! -x "$bin/initdb" ]; then
    echo "no PostgreSQL server found (looked in /usr/lib/postgresql and on the PATH)" >&2
    exit 1
fi

action=${1:?start, stop, halt or resume}
folder=${2:?a folder for the server}

as_server() {
    if [ "$(id -u)" = 0 ]; then
        su postgres -s /bin/sh -c "cd / && $1"
    else
        sh -c "$1"
    fi
}

case $action in
start)
    mkdir -p "$folder"
    if [ "$(id -u)" = 0 ]; then chown postgres "$folder"; fi
    chmod 700 "$folder"
    port=${RPD_TEST_POSTGRES_PORT:-$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')}
    as_server "$bin/initdb -D '$folder/data' -U tester --auth=trust --encoding=UTF8 --no-locale >'$folder/initdb.log'" >&2
    as_server "cat >>'$folder/data/postgresql.conf'" <<EOF
listen_addresses = '127.0.0.1'
port = $port
unix_socket_directories = '$folder'
max_connections = 200
EOF
    as_server "$bin/pg_ctl -D '$folder/data' -l '$folder/server.log' -w -t 60 start >/dev/null" >&2
    as_server "$bin/createdb -h 127.0.0.1 -p $port -U tester casebook" >&2
    echo "postgresql://tester@127.0.0.1:$port/casebook"
    ;;
halt)
    as_server "$bin/pg_ctl -D '$folder/data' -m immediate -w stop >/dev/null" >&2
    ;;
resume)
    as_server "$bin/pg_ctl -D '$folder/data' -l '$folder/server.log' -w -t 60 start >/dev/null" >&2
    ;;
stop)
    as_server "$bin/pg_ctl -D '$folder/data' -m fast -w stop >/dev/null" >&2
    rm -rf "$folder"
    ;;
*)
    echo "start, stop, halt or resume, not $action" >&2
    exit 2
    ;;
esac
