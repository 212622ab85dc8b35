-- What the database keeps by itself for a team, whoever speaks to it and in whatever SQL. Run by the owner of the tables
-- as often as wanted. Put in before: :SCHEMA, :ROLES (their names in order), :ACTS (roles by act), :KINDS (acts by kind of version), :TAKEN_OUT, and :PREFIX
-- of the log-ins over which the screens work. Every function reads its own schema only. Errors of class RP are for people.

CREATE OR REPLACE FUNCTION team_owner() RETURNS boolean LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    SELECT pg_has_role(session_user, (SELECT relowner FROM pg_class WHERE oid = 'versions'::regclass), 'MEMBER')
$$;

CREATE OR REPLACE FUNCTION team_now(back interval DEFAULT '0') RETURNS text LANGUAGE sql STABLE AS $$
    SELECT to_char((clock_timestamp() - back) AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')
$$;

CREATE OR REPLACE FUNCTION team_digest(what text) RETURNS text LANGUAGE sql STABLE AS $$
    SELECT encode(sha256(convert_to(what, 'UTF8')), 'hex')
$$;

CREATE OR REPLACE FUNCTION team_house(what text) RETURNS text LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    SELECT value::jsonb ->> what FROM settings WHERE key = 'house'
$$;

-- A log-in that has not ended, neither by itself nor by its time nor by rest.
CREATE OR REPLACE FUNCTION team_lasts(began text, seen text, ended text) RETURNS boolean LANGUAGE sql STABLE
SET search_path = :SCHEMA, pg_temp AS $$
    SELECT ended IS NULL
        AND began > team_now(make_interval(mins => team_house('session_minutes')::integer))
        AND seen > team_now(make_interval(mins => team_house('idle_minutes')::integer))
$$;

-- Who is at work: over the screens by the token of the log-in, which has to fit the connection's role; else by the
-- database user. No row for anybody else. Asked at every statement, so it is one query; `team_lasts` says the same.
CREATE OR REPLACE FUNCTION team_me() RETURNS TABLE (alias text, role text) LANGUAGE plpgsql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
#variable_conflict use_column
DECLARE
    over text := substring(session_user::text FROM '^' || :PREFIX || '_app_(.*)$');
    form constant text := 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"';
BEGIN
    IF over IS NOT NULL THEN
        RETURN QUERY SELECT p.alias::text, p.role::text FROM sessions s JOIN people p ON p.alias = s.alias,
            (SELECT (value::jsonb ->> 'session_minutes')::integer AS session,
                    (value::jsonb ->> 'idle_minutes')::integer AS idle FROM settings WHERE key = 'house') h
            WHERE s.token = team_digest(current_setting('casebook.token', true))
                AND p.role = over AND p.ended IS NULL AND s.ended IS NULL
                AND s.began > to_char((clock_timestamp() - make_interval(mins => h.session)) AT TIME ZONE 'UTC', form)
                AND s.seen > to_char((clock_timestamp() - make_interval(mins => h.idle)) AT TIME ZONE 'UTC', form);
    ELSE
        RETURN QUERY SELECT p.alias::text, p.role::text FROM people p
            WHERE p.database_user = session_user::text AND p.ended IS NULL;
    END IF;
END
$$;

CREATE OR REPLACE FUNCTION team_alias() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$ SELECT alias FROM team_me() $$;

CREATE OR REPLACE FUNCTION team_role() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$ SELECT role FROM team_me() $$;

CREATE OR REPLACE FUNCTION team_may(act text) RETURNS boolean LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    SELECT team_owner() OR coalesce((:ACTS::jsonb -> act) ? team_role(), false)
$$;

CREATE OR REPLACE FUNCTION team_require(act text) RETURNS void LANGUAGE plpgsql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF NOT team_may(act) THEN
        RAISE EXCEPTION USING ERRCODE = 'RP001', MESSAGE = coalesce(
            team_alias() || ' is a ' || team_role() || ', whose role does not allow this (' || act || ')',
            'nobody is logged in, or the session has ended');
    END IF;
END
$$;

CREATE OR REPLACE FUNCTION team_refuse(why text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING ERRCODE = 'RP001', MESSAGE = why;
END
$$;

-- Facts of a document.

CREATE OR REPLACE FUNCTION team_state(document text) RETURNS text LANGUAGE sql IMMUTABLE AS $$
    SELECT coalesce(document::jsonb #>> '{review,status}', 'draft')
$$;

CREATE OR REPLACE FUNCTION team_design(document text) RETURNS jsonb LANGUAGE sql IMMUTABLE AS $$
    SELECT document::jsonb - '{outcome,dentist_answer,review}'::text[]
$$;

CREATE OR REPLACE FUNCTION team_only_taken_out(before jsonb, after jsonb) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF before = after THEN
        RETURN true;
    ELSIF jsonb_typeof(before) = 'object' AND jsonb_typeof(after) = 'object' THEN
        RETURN (SELECT coalesce(bool_and(a.key IS NOT NULL AND b.key IS NOT NULL AND team_only_taken_out(b.value, a.value)),
                                true)
                FROM jsonb_each(before) b FULL JOIN jsonb_each(after) a USING (key));
    ELSIF jsonb_typeof(before) = 'array' AND jsonb_typeof(after) = 'array' THEN
        RETURN jsonb_array_length(before) = jsonb_array_length(after)
            AND (SELECT coalesce(bool_and(team_only_taken_out(before -> n, after -> n)), true)
                 FROM generate_series(0, jsonb_array_length(before) - 1) n);
    END IF;
    RETURN jsonb_typeof(before) = 'string' AND after = to_jsonb(:TAKEN_OUT::text);
END
$$;

-- Whether a value is what may stand at a place of the format (`shape`, made from the case model): what a program could not
-- read would take the case out of advice, which a follow-up may not.
CREATE OR REPLACE FUNCTION team_fits(value jsonb, shape jsonb) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
SET search_path = :SCHEMA, pg_temp AS $$
DECLARE
    kind text := shape ->> 'kind';
    plain text := value #>> '{}';
BEGIN
    IF jsonb_typeof(value) <> shape ->> 'json' THEN
        RETURN false;
    ELSIF kind = 'record' THEN
        RETURN (value ?& ARRAY(SELECT jsonb_array_elements_text(shape -> 'required')))
            AND (SELECT coalesce(bool_and(shape -> 'fields' ? e.key AND team_fits(e.value, shape -> 'fields' -> e.key)), true)
                 FROM jsonb_each(value) e);
    ELSIF kind = 'list' THEN
        RETURN (SELECT coalesce(bool_and(team_fits(e, shape -> 'item')), true) FROM jsonb_array_elements(value) e);
    ELSIF kind = 'word' THEN
        RETURN shape -> 'words' ? plain;
    ELSIF kind = 'text' THEN
        RETURN char_length(plain) <= (shape ->> 'longest')::integer AND plain !~ E'[\\u0001-\\u0008\\u000b\\u000c\\u000e-\\u001f]';
    ELSIF shape ->> 'json' = 'number' THEN
        RETURN plain::numeric BETWEEN (shape ->> 'low')::numeric AND (shape ->> 'high')::numeric
            AND (kind = 'number' OR plain ~ '^[0-9]+$');
    END IF;
    RETURN kind = 'flag';
END
$$;

CREATE OR REPLACE FUNCTION team_each_once(part json) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF json_typeof(part) = 'object' THEN
        RETURN (SELECT count(*) = count(DISTINCT key) AND coalesce(bool_and(team_each_once(value)), true)
                FROM json_each(part));
    ELSIF json_typeof(part) = 'array' THEN
        RETURN (SELECT coalesce(bool_and(team_each_once(e)), true) FROM json_array_elements(part) e);
    END IF;
    RETURN true;
END
$$;

-- Which revision of a case serves after one of its revisions, from the history alone.
CREATE OR REPLACE FUNCTION team_serving(of_case text, upto integer) RETURNS integer LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    WITH marks AS (
        SELECT revision, kind, team_state(document) AS state FROM versions WHERE case_id = of_case AND revision <= upto
    )
    SELECT max(a.revision) FROM marks a WHERE a.state = 'approved' AND NOT EXISTS (
        SELECT FROM marks b WHERE b.revision > a.revision AND (b.state = 'retired' OR b.kind = 'drafted'))
$$;

-- Who made what would be approved: everybody whose version changed the case itself since it was approved last.
CREATE OR REPLACE FUNCTION team_authors(of_case text) RETURNS SETOF text LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    WITH steps AS (
        SELECT revision, who, team_design(document) AS design,
               lag(team_design(document)) OVER (ORDER BY revision) AS before
        FROM versions WHERE case_id = of_case
    )
    SELECT DISTINCT who::text FROM steps
    WHERE design IS DISTINCT FROM before AND revision > coalesce(team_serving(of_case, 2147483647), 0)
$$;

CREATE OR REPLACE FUNCTION team_approved(of_case text, of_revision integer) RETURNS boolean LANGUAGE sql STABLE
SECURITY DEFINER SET search_path = :SCHEMA, pg_temp AS $$
    SELECT EXISTS (SELECT FROM cases WHERE id = of_case AND revision = of_revision AND status = 'approved')
$$;

-- A version comes in: by whom and when says the database; what its state may be follows from who it is.
CREATE OR REPLACE FUNCTION team_version_in() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
DECLARE
    me record;
    before versions%ROWTYPE;
    document jsonb;
    served text;
    state text;
    was text;
    act text;
BEGIN
    IF session_user = current_user THEN
        RETURN NEW;  -- the owner, and quickly
    END IF;
    SELECT * INTO me FROM team_me();
    IF me.alias IS NULL AND team_owner() THEN
        RETURN NEW;
    END IF;
    NEW.who := me.alias;
    NEW.at := team_now();
    document := NEW.document::jsonb;
    act := coalesce(:KINDS::jsonb ->> NEW.kind, 'unknown');
    IF NOT coalesce((:ACTS::jsonb -> act) ? me.role, false) THEN
        PERFORM team_require(act);
    END IF;
    IF NEW.checksum <> team_digest(NEW.document)
            OR document ->> 'id' IS DISTINCT FROM NEW.case_id THEN
        PERFORM team_refuse('the document does not fit its checksum or its case');
    END IF;
    PERFORM FROM cases WHERE id = NEW.case_id FOR UPDATE;
    SELECT * INTO before FROM versions v WHERE v.case_id = NEW.case_id ORDER BY v.revision DESC LIMIT 1;
    IF NEW.revision <> coalesce(before.revision, 0) + 1 THEN
        PERFORM team_refuse('a version follows the one before it');
    END IF;
    state := coalesce(document #>> '{review,status}', 'draft');
    was := coalesce(before.document::jsonb #>> '{review,status}', 'draft');
    IF (state = 'retired') <> (was = 'retired') OR NEW.kind = 'drafted' THEN
        PERFORM team_require('retire');
    END IF;
    IF state = 'approved' THEN
        SELECT v.document INTO served FROM versions v
        WHERE v.case_id = NEW.case_id AND v.revision = team_serving(NEW.case_id, before.revision);
        IF served::jsonb - '{outcome,dentist_answer}'::text[] = NEW.document::jsonb - '{outcome,dentist_answer}'::text[] THEN
            -- follow-up, or what serves put back; every program has to be able to read it
            IF NOT (team_each_once(NEW.document::json) AND team_fits(
                    jsonb_build_object('outcome', coalesce(document -> 'outcome', '{}'),
                                       'dentist_answer', coalesce(document -> 'dentist_answer', '[]')), :FOLLOW_UP)) THEN
                PERFORM team_refuse('what was added is no follow-up that could be read');
            END IF;
        ELSIF NEW.kind = 'redacted' AND was = 'approved'
                AND team_only_taken_out(before.document::jsonb, NEW.document::jsonb) THEN
            NULL;
        ELSE
            PERFORM team_require('approve');
            IF NEW.kind = 'imported' THEN
                PERFORM team_require('import_approved');
            END IF;
            IF team_house('four_eyes')::boolean AND (
                    before.document IS NULL OR team_design(before.document) <> team_design(NEW.document)
                    OR NEW.who IN (SELECT team_authors(NEW.case_id))) THEN
                PERFORM team_refuse(format('%s entered or changed case %s; in this house somebody else approves it',
                                           NEW.who, NEW.case_id));
            END IF;
        END IF;
    END IF;
    RETURN NEW;
END
$$;

-- A version is changed afterwards: only by taking texts out, and only together with a version that says so.
CREATE OR REPLACE FUNCTION team_version_redacted() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF team_owner() THEN
        RETURN NULL;
    END IF;
    PERFORM team_require('redact');
    IF NOT team_only_taken_out(OLD.document::jsonb, NEW.document::jsonb)
            OR team_state(NEW.document) <> team_state(OLD.document) OR NEW.checksum <> team_digest(NEW.document)
            OR NOT EXISTS (SELECT FROM versions WHERE case_id = NEW.case_id AND kind = 'redacted'
                           AND who = team_alias() AND xmin = pg_current_xact_id()::xid) THEN
        PERFORM team_refuse('history is changed only by taking a text out, with a version that says so');
    END IF;
    RETURN NULL;
END
$$;

-- At the end of a transaction the row of a case says what its history says.
CREATE OR REPLACE FUNCTION team_case_fits() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
DECLARE
    me record;
    held cases%ROWTYPE;
    last versions%ROWTYPE;
    document jsonb;
    state text;
    serves integer;
BEGIN
    IF session_user = current_user THEN
        RETURN NULL;
    END IF;
    SELECT * INTO me FROM team_me();
    IF me.alias IS NULL AND team_owner() THEN
        RETURN NULL;
    END IF;
    SELECT * INTO held FROM cases WHERE id = NEW.id;
    SELECT * INTO last FROM versions WHERE case_id = NEW.id ORDER BY revision DESC LIMIT 1;
    document := last.document::jsonb;
    state := coalesce(document #>> '{review,status}', 'draft');
    IF last.revision = 1 THEN
        serves := CASE state WHEN 'approved' THEN 1 END;
    ELSE
        serves := team_serving(NEW.id, last.revision);
    END IF;
    IF (TG_OP = 'UPDATE' AND (NEW.id <> OLD.id OR NEW.revision <> OLD.revision + 1))
            OR last.revision IS DISTINCT FROM held.revision OR last.who IS DISTINCT FROM me.alias
            OR state IS DISTINCT FROM held.status OR held.title IS DISTINCT FROM document ->> 'title'
            OR (held.serving IS DISTINCT FROM serves AND (TG_OP = 'INSERT' OR OLD.serving IS NOT NULL
                                                          OR held.serving IS NOT NULL)) THEN
        PERFORM team_refuse('the row of a case has to say what its history says');
    END IF;
    RETURN NULL;
END
$$;

CREATE OR REPLACE FUNCTION team_version_fits() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM cases WHERE id = NEW.case_id AND revision >= NEW.revision) AND NOT team_owner() THEN
        PERFORM team_refuse('the row of a case has to say what its history says');
    END IF;
    RETURN NULL;
END
$$;

CREATE OR REPLACE FUNCTION team_who_in() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF NOT team_owner() THEN
        NEW.who := team_alias();
        NEW.at := team_now();
    END IF;
    RETURN NEW;
END
$$;

-- A profile of the house is adopted: by whom and when says the database, and the document is what its checksum says.
CREATE OR REPLACE FUNCTION team_profile_in() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF NOT team_owner() THEN
        PERFORM team_require('rules');
        IF NEW.checksum <> team_digest(NEW.document) THEN
            PERFORM team_refuse('the profile does not fit its checksum');
        END IF;
        NEW.who := team_alias();
        NEW.at := team_now();
    END IF;
    RETURN NEW;
END
$$;

-- A case is taken out for good, with its history; who did it, when and why stays, and can be changed by nobody.
-- ``named``: the number may stay in the trace, for it identifies nobody.
DROP FUNCTION IF EXISTS team_delete(text, integer, text);
CREATE OR REPLACE FUNCTION team_delete(of_case text, opened integer, reason text, named boolean DEFAULT true) RETURNS void LANGUAGE plpgsql
SECURITY DEFINER SET search_path = :SCHEMA, pg_temp AS $$
DECLARE
    last versions%ROWTYPE;
    digest text := left(encode(sha256(convert_to(of_case, 'UTF8')), 'hex'), 16);
BEGIN
    PERFORM team_require('delete');
    IF coalesce(btrim(reason), '') = '' THEN
        PERFORM team_refuse('a case is deleted for a reason, which is kept');
    END IF;
    PERFORM FROM cases WHERE id = of_case FOR UPDATE;
    SELECT * INTO last FROM versions WHERE case_id = of_case ORDER BY revision DESC LIMIT 1;
    IF last.revision IS DISTINCT FROM opened THEN
        PERFORM team_refuse(format('case %s was changed by somebody else meanwhile', of_case));
    END IF;
    INSERT INTO settings (key, value) VALUES (CASE WHEN NOT named THEN 'deleted::' || digest WHEN length(of_case) <= 52 THEN
            'deleted:' || of_case ELSE left('deleted:' || of_case, 43) || ':' || digest END,
        jsonb_build_object(
            'case', CASE WHEN named THEN of_case ELSE ':' || digest END, 'who', coalesce(team_alias(), session_user::text), 'at', team_now(), 'why', reason,
            'revisions', last.revision, 'checksum', last.checksum)::text)
        ON CONFLICT (key) DO UPDATE SET value = EXCLUDED.value;
    DELETE FROM imported WHERE case_id = of_case;
    DELETE FROM looked WHERE case_id = of_case;
    DELETE FROM versions WHERE case_id = of_case;
    DELETE FROM cases WHERE id = of_case;
END
$$;

-- A person who comes straight to the database gets the rights of the role there, and loses them with it.
CREATE OR REPLACE FUNCTION team_person_out() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
BEGIN
    IF NEW.role <> ALL (:ROLES) THEN
        PERFORM team_refuse(format('no such role: %s', NEW.role));
    END IF;
    IF TG_OP = 'UPDATE' THEN
        IF NEW.alias <> OLD.alias THEN
            PERFORM team_refuse('an alias stays with its person: the history names it');
        END IF;
        IF OLD.database_user IS NOT NULL AND EXISTS (SELECT FROM pg_roles WHERE rolname = OLD.database_user) THEN
            EXECUTE format('REVOKE %I FROM %I', :PREFIX || '_' || OLD.role, OLD.database_user);
        END IF;
        IF NEW.ended IS NOT NULL OR NEW.role <> OLD.role OR NEW.login IS DISTINCT FROM OLD.login THEN
            UPDATE sessions SET ended = team_now() WHERE alias = NEW.alias AND ended IS NULL;
        END IF;
    END IF;
    IF NEW.database_user IS NOT NULL AND NEW.ended IS NULL THEN
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = NEW.database_user AND rolcanlogin) THEN
            PERFORM team_refuse(format('the server has no user %s; its administrator makes one first', NEW.database_user));
        END IF;
        IF starts_with(NEW.database_user, :PREFIX || '_') OR EXISTS (
                SELECT FROM pg_roles WHERE rolname = NEW.database_user
                AND (rolsuper OR rolcreaterole OR pg_has_role(oid, (SELECT relowner FROM pg_class
                                                                    WHERE oid = 'versions'::regclass), 'MEMBER'))) THEN
            PERFORM team_refuse(format('%s is no user for a person', NEW.database_user));
        END IF;
        EXECUTE format('GRANT %I TO %I', :PREFIX || '_' || NEW.role, NEW.database_user);
    END IF;
    RETURN NULL;
END
$$;

-- Log-ins, for the service of the screens alone. `key` tells one log-in at the provider of identities from the next, so that
-- one that has ended does not come back with the same evidence.
CREATE OR REPLACE FUNCTION team_log_in(key text, by_login text, at_provider timestamptz)
RETURNS TABLE (alias text, role text, token text, problem text) LANGUAGE plpgsql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
#variable_conflict use_column
DECLARE
    one people%ROWTYPE;
    held sessions%ROWTYPE;
    fresh text := gen_random_uuid()::text || gen_random_uuid()::text;
BEGIN
    SELECT * INTO one FROM people p WHERE p.login = by_login AND p.ended IS NULL;
    IF NOT FOUND THEN
        RETURN QUERY SELECT NULL::text, NULL::text, NULL::text, 'unknown';
        RETURN;
    END IF;
    INSERT INTO sessions (login_key, alias, token, began, seen)
        VALUES (key, one.alias, team_digest(fresh),
                to_char(least(at_provider, clock_timestamp()) AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'), team_now())
        ON CONFLICT (login_key) DO NOTHING;
    SELECT * INTO held FROM sessions s WHERE s.login_key = key FOR UPDATE;
    IF held.alias <> one.alias OR NOT team_lasts(held.began, held.seen, held.ended) THEN
        UPDATE sessions SET ended = coalesce(ended, team_now()) WHERE login_key = key;
        RETURN QUERY SELECT NULL::text, NULL::text, NULL::text, 'ended';
        RETURN;
    END IF;
    UPDATE sessions SET token = team_digest(fresh), seen = team_now() WHERE login_key = key;
    DELETE FROM sessions WHERE began < team_now('400 days');
    RETURN QUERY SELECT one.alias::text, one.role::text, fresh, NULL::text;
END
$$;

CREATE OR REPLACE FUNCTION team_seen(of_token text) RETURNS boolean LANGUAGE sql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    WITH kept AS (
        UPDATE sessions s SET seen = team_now() FROM people p
        WHERE s.token = team_digest(of_token) AND p.alias = s.alias AND p.ended IS NULL
            AND team_lasts(s.began, s.seen, s.ended)
        RETURNING 1)
    SELECT EXISTS (SELECT FROM kept)
$$;

CREATE OR REPLACE FUNCTION team_log_out(of_token text) RETURNS void LANGUAGE sql SECURITY DEFINER
SET search_path = :SCHEMA, pg_temp AS $$
    UPDATE sessions SET ended = team_now()
    WHERE token = team_digest(of_token) AND ended IS NULL
$$;

DROP TRIGGER IF EXISTS team_version_in ON versions;
CREATE TRIGGER team_version_in BEFORE INSERT ON versions FOR EACH ROW EXECUTE FUNCTION team_version_in();
DROP TRIGGER IF EXISTS team_version_redacted ON versions;
CREATE CONSTRAINT TRIGGER team_version_redacted AFTER UPDATE ON versions DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION team_version_redacted();
DROP TRIGGER IF EXISTS team_case_fits ON cases;
CREATE CONSTRAINT TRIGGER team_case_fits AFTER INSERT OR UPDATE ON cases DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION team_case_fits();
DROP TRIGGER IF EXISTS team_version_fits ON versions;
CREATE CONSTRAINT TRIGGER team_version_fits AFTER INSERT ON versions DEFERRABLE INITIALLY DEFERRED
    FOR EACH ROW EXECUTE FUNCTION team_version_fits();
DROP TRIGGER IF EXISTS team_person_out ON people;
CREATE TRIGGER team_person_out AFTER INSERT OR UPDATE ON people FOR EACH ROW EXECUTE FUNCTION team_person_out();
DROP TRIGGER IF EXISTS team_profile_in ON profiles;
CREATE TRIGGER team_profile_in BEFORE INSERT ON profiles FOR EACH ROW EXECUTE FUNCTION team_profile_in();
DROP TRIGGER IF EXISTS team_who_in ON people;
CREATE TRIGGER team_who_in BEFORE INSERT OR UPDATE ON people FOR EACH ROW EXECUTE FUNCTION team_who_in();
DROP TRIGGER IF EXISTS team_who_in ON looked;
CREATE TRIGGER team_who_in BEFORE INSERT ON looked FOR EACH ROW EXECUTE FUNCTION team_who_in();
DROP TRIGGER IF EXISTS team_who_in ON mappings;
CREATE TRIGGER team_who_in BEFORE INSERT OR UPDATE ON mappings FOR EACH ROW EXECUTE FUNCTION team_who_in();
DROP TRIGGER IF EXISTS team_who_in ON imports;
CREATE TRIGGER team_who_in BEFORE INSERT OR UPDATE ON imports FOR EACH ROW EXECUTE FUNCTION team_who_in();
