"""The app: its frame, and the pages in it."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import dash
import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html
from flask import Flask, current_app, redirect, request
from werkzeug import Response

from analyzer.records.accounts import Door
from dashboards.attributes import aria
from dashboards.below import freed, make_addresses_whole, whole
from dashboards.compression import hints, send_little
from dashboards.downloads import add_sheets
from dashboards.error_notices import tell
from dashboards.guarding import LOOPBACK_ONLY, SCHEME, Names, add_guard, allow_scripts
from dashboards.importing import Imports
from dashboards.searching import Searches
from dashboards.signing_in import COOKIE, PASSWORD, SIGN_OUT, add_door, person_here, writes_here
from dashboards.staging import Staging
from dashboards.uploads import add_receiver
from dashboards.whole_tables import add_whole_tables

if TYPE_CHECKING:
    from dashboards.kept import Kept

#: The pages, and those of them that stand in the bar at the top.
PAGES = (
    "fleet",
    "digest",
    "aircraft",
    "flight",
    "compare",
    "squawk",
    "bring_in",
    "logs",
    "settings",
    "entries",
    "due",
    "peers",
    "changes",
    "reference",
)
BRING_IN = "/bring-in"
IN_THE_BAR = (
    ("Fleet", "/"),
    ("Digest", "/digest"),
    ("Squawk", "/squawk"),
    ("Import", BRING_IN),
    ("Maintenance log", "/entries"),
    ("Due", "/due"),
    ("Reference", "/reference"),
)
#: Addresses that people type -> where that is: the words of the bar, and what a tail or a flight stands below.
ELSEWHERE = {
    f"/{words.lower().replace(' ', '-')}": href
    for words, href in (*IN_THE_BAR, ("Maintenance", "/entries"), ("Aircraft", "/"), ("Flight", "/"), ("Flights", "/"))
    if f"/{words.lower().replace(' ', '-')}" != href
}
ASSETS = Path(__file__).with_name("assets")
SOURCE_KEY, STAGING_KEY, SEARCHES_KEY, IMPORTS_KEY = "taper_kept", "taper_staging", "taper_searches", "taper_imports"
SHEETS_KEY = "taper_sheets"

#: Shades of the one accent, light to dark, for the form fields; look.css has the same two.
ACCENT = (
    "#eef5fa", "#dfeaf1", "#b9d7ec", "#8cc4ea", "#5fa6d3", "#3a8abd", "#226c9b", "#14557f", "#0f4568", "#0a344f",
)  # fmt: skip

WHILE_LOADING = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <title>{%title%}</title>
    {%favicon%}
    {%css%}
    <script>{%scheme%}</script>
  </head>
  <body>
    <noscript><p>These pages need scripts; allow them for this address.</p></noscript>
    {%app_entry%}
    <footer>{%config%}{%scripts%}{%renderer%}</footer>
  </body>
</html>"""


class Pages(Dash):
    """The app, whose pages say at once what they will ask for."""

    def interpolate_index(self, **parts: Any) -> str:  # type: ignore[override]  # Dash names each of them
        """The page that is sent first, with hints of what it needs, and leave to run the scripts that stand in it."""
        allow_scripts(SCHEME, hashes=self.csp_hashes())
        head = f"{parts['css']}\n{hints(request.path, request.script_root)}"
        whole: Any = super()
        return str(whole.interpolate_index(**parts | {"css": head}))


def make_app(kept: Kept, names: Names = LOOPBACK_ONLY, *, accounts: bool = False, prefix: str = "") -> Dash:
    """The app over what is kept. One app a process: Dash keeps pages and callbacks by process.

    Everything is served from this machine; nothing is fetched from elsewhere. It answers under some names only,
    and to those who are signed in where there are accounts or they are asked for. ``prefix`` is where browsers find
    the pages, without a slash at its end.
    """
    app = Pages(
        "dashboards",
        use_pages=True,
        pages_folder="",
        assets_folder=str(ASSETS),
        serve_locally=True,
        routes_pathname_prefix="/",
        requests_pathname_prefix=f"{prefix}/",
        title="taper",
        update_title="Working …",
        suppress_callback_exceptions=True,
        index_string=WHILE_LOADING.replace("{%scheme%}", SCHEME),
        on_error=tell,
    )
    add_guard(app, names)
    add_door(app.server, Door(kept.folder, codes_of_managers=accounts), kept.store, needed=accounts)
    app.server.config[SOURCE_KEY] = kept
    staging = Staging(kept.fleet_file)
    app.server.config[STAGING_KEY] = staging
    app.server.config[IMPORTS_KEY] = Imports(staging)
    searches = Searches(kept)
    app.server.config[SEARCHES_KEY] = searches
    add_receiver(app.server, staging)
    app.server.config[SHEETS_KEY] = add_sheets(app.server, kept, searches)
    add_whole_tables(app.server, kept)
    send_little(app.server)
    _lead_on(app.server)
    make_addresses_whole(app.server)  # after what packs answers, so that it comes before it
    for name in PAGES:
        import_module(f"dashboards.pages.{name}")
    import_module("dashboards.pages.not_found_404")
    app.layout = frame
    return app


def _lead_on(server: Flask) -> None:
    """Lead from addresses that people type to the pages that they mean, with whatever is asked of these."""

    def led() -> Response:
        asked = request.query_string.decode("ascii", "ignore")
        return redirect(whole(ELSEWHERE[request.path]) + (f"?{asked}" if asked else ""), 302)

    for address in ELSEWHERE:
        server.add_url_rule(address, f"elsewhere{address}", led)


def kept_here() -> Kept:
    """What is kept, for the app that answers at this moment, as who asks may use it."""
    found: Kept = current_app.config[SOURCE_KEY]
    return found.asked_by(person_here())


def staging_here() -> Staging:
    """What whoever asks brought in and has not kept yet, for the app that answers at this moment."""
    found: Staging = current_app.config[STAGING_KEY]
    return found.of(person_here().name)


def imports_here() -> Imports:
    """The imports, for the app that answers at this moment."""
    found: Imports = current_app.config[IMPORTS_KEY]
    return found


def searches_here() -> Searches:
    """The reports looked up, for the app that answers at this moment."""
    found: Searches = current_app.config[SEARCHES_KEY]
    return found


def frame() -> dmc.MantineProvider:
    """The bar at the top and the page below it."""
    return dmc.MantineProvider(
        [
            html.A("To the content", href="#content", className="skip"),
            html.Header(
                [
                    dcc.Link([_sign(), "taper"], href="/", className="name", title="Fleet"),
                    html.Button("Menu", id="bar-menu", type="button", **aria(expanded="false", controls="bar-pages")),
                    html.Nav(html.Ul(id="bar-links", children=bar_links("/")), id="bar-pages", **aria(label="Pages")),
                    html.Div(
                        [
                            *_signed_in(),
                            dmc.ColorSchemeToggle(
                                lightIcon="☀",
                                darkIcon="☾",
                                color="gray",
                                id="bar-scheme",
                                **aria(label="Switch between light and dark"),
                            ),
                        ],
                        className="right",
                    ),
                ],
                className="bar",
            ),
            html.Div(id="notice", role="alert", className="notice"),
            html.Main(dash.page_container, id="content", tabIndex=-1),
        ],
        defaultColorScheme="auto",
        theme={
            "primaryColor": "accent",
            "primaryShade": {"light": 7, "dark": 3},
            "autoContrast": True,
            "colors": {"accent": list(ACCENT)},
            "fontFamily": "inherit",
        },
    )


def _signed_in() -> list[Any]:
    """Who is signed in, and the way out; nothing where nobody signs in."""
    person = person_here()
    if COOKIE not in request.cookies:
        return []
    out = html.Form(html.Button("Sign out", className="show"), method="POST", action=SIGN_OUT)
    own = html.A(f"{person.name}, {person.role.word}", href=PASSWORD, title="Change password")
    return [own, out]


def _sign() -> html.Img:
    """The sign: a current that tapers."""
    return html.Img(src=dash.get_asset_url("sign.svg"), alt="", width=30, height=22)


def bar_links(path: str | None) -> list[html.Li]:
    """The links of the bar, the present page marked; nobody is led to where they may do nothing."""
    return [
        html.Li(dcc.Link(words, href=href), **(aria(current="page") if href == path else {}))
        for words, href in IN_THE_BAR
        if href != BRING_IN or writes_here()
    ]


@dash.callback(Output("bar-links", "children"), Input("_pages_location", "pathname"))
def mark_the_page(path: str | None) -> list[html.Li]:
    """Mark the present page in the bar."""
    return bar_links(freed(path))
