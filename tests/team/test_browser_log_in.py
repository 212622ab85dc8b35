"""Logging in over a real provider of identities, in a real browser: in, what one may do, the end of a session, out.

OpenID Connect Core 1.0 (authorization code flow) and RP-Initiated Logout 1.0, as the provider of the tests keeps them.
"""

import warnings

import pytest
from sqlalchemy import text

from tests.screens import browser as b

pytestmark = [pytest.mark.browser, pytest.mark.postgres, pytest.mark.xdist_group("browser")]


@pytest.fixture
def provider():
    """A provider of identities that knows one who works here."""
    pytest.importorskip("authlib", reason="Authlib is not installed (extra 'team')")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import oidc_provider_mock as mock

        known = mock.User(sub="ds", claims={"email": "ds@lab.example", "email_verified": True})
        with mock.run_server_in_thread(user_claims=[known]) as running:
            yield f"http://localhost:{running.server_port}"


@pytest.fixture
def screens(team, provider, tmp_path):
    """The screens of the team, told of that provider."""
    b.need_browser()
    port = b.free_port()
    secrets = tmp_path / ".streamlit" / "secrets.toml"
    secrets.parent.mkdir()
    secrets.write_text(
        f'[auth]\nredirect_uri = "http://127.0.0.1:{port}/oauth2callback"\ncookie_secret = "of the tests alone"\n'
        f'client_id = "screens"\nclient_secret = "of the tests alone"\n'
        f'server_metadata_url = "{provider}/.well-known/openid-configuration"\n',
        encoding="utf-8",
    )
    with b.server(tmp_path, team.service_url, port) as address:
        yield address


def at_provider(page, name):
    page.get_by_role("button", name=name, exact=True).click()
    page.get_by_role("button", name="Log out").first.wait_for(timeout=30_000)
    b.settle(page)


def test_in_with_ones_role_out_and_no_way_back_with_an_old_cookie(team, screens):
    with b.chromium() as browser:
        context = browser.new_context(viewport={"width": 1280, "height": 900})
        context.route("**/*", lambda route: route.abort() if "://cdn." in route.request.url else route.continue_())
        page = context.new_page()
        b.open_at(page, screens)
        assert page.locator("h1").inner_text() == "Log in"
        assert page.locator('[data-testid="stSidebarNav"]').count() == 0
        page.get_by_role("button", name="Log in").click()
        at_provider(page, "ds")
        assert "DS, designer" in page.locator('[data-testid="stSidebar"]').inner_text()
        b.open_at(page, f"{screens}/library")
        page.get_by_text("Bring in", exact=True).wait_for(timeout=30_000)  # and it stands there once
        assert page.get_by_text("Review", exact=True).count() == 0
        # the set time passes
        with team.open(team.owner).writing() as connection:
            connection.execute(text("UPDATE sessions SET began = team_now('11 hours') WHERE alias = 'DS'"))
        b.open_at(page, f"{screens}/library")
        assert "Your session has ended" in page.locator('[data-testid="stAlert"]').inner_text()
        page.get_by_role("button", name="Log in again").click()
        at_provider(page, "ds")
        assert "DS, designer" in page.locator('[data-testid="stSidebar"]').inner_text()

        kept = context.cookies()
        page.get_by_role("button", name="Log out").click()
        page.get_by_role("button", name="End session").click()
        b.open_at(page, screens)
        assert page.locator("h1").inner_text() == "Log in"
        context.add_cookies(kept)
        b.open_at(page, f"{screens}/library")
        assert "Your session has ended" in page.locator('[data-testid="stAlert"]').inner_text()
