"""The two plain forms of signing in: name and password, and one's own password changed. Neither needs the app."""

from __future__ import annotations

from html import escape
from urllib.parse import quote

from dashboards.below import whole
from dashboards.guarding import SCHEME

_FRAME = """<!DOCTYPE html>
<html lang="en">
  <head>
    <meta charset="utf-8">
    <meta name="viewport" content="width=device-width, initial-scale=1">
    <title>taper: {title}</title>
    <link rel="icon" href="{sign}">
    <link rel="stylesheet" href="{look}">
    <script>{scheme}</script>
    <script src="{shows}" defer></script>
  </head>
  <body>
    <header class="bar">
      <span class="name"><img src="{sign}" alt="" width="30" height="22"> taper</span>
    </header>
    <main id="content">
      <div class="page sign-in">
        <h1>{heading}</h1>
        {said}
        <form method="post" action="{action}" class="section sign-in-form">
          {fields}
          <label class="shows"><input type="checkbox" id="show-password"> Show what is typed</label>
          <button class="button">{button}</button>
        </form>
        <p class="lead">{lead}</p>
      </div>
    </main>
  </body>
</html>
"""
_NAME = """<label for="name">Name</label>
          <input id="name" name="name" autocomplete="username" autocapitalize="none" required maxlength="64" autofocus>
          """
_CODE = """<label for="code">One-time code, if your account asks for one</label>
          <input id="code" name="code" autocomplete="one-time-code" inputmode="numeric" maxlength="12">
          """
_METER = """<div class="strength">
            <meter id="strength" min="0" max="4" low="3" high="4" optimum="4" value="0" aria-label="Strength"></meter>
            <span id="strength-words" role="status">Strength: nothing typed yet</span>
          </div>
          """


def sign_in_form(says: str, to: str, after: str) -> str:
    """Ask for name and password; ``to`` takes them, ``after`` is where it leads then."""
    fields = _NAME + _password("password", "Password", "current-password") + _CODE
    return _form(
        "Sign in", says, f"{to}?next={quote(after)}", fields, "Sign in", "No account? Ask whoever runs these pages."
    )


def password_form(says: str, to: str, name: str) -> str:
    """Ask somebody for the old password and the new one."""
    fields = f'<input type="hidden" autocomplete="username" value="{escape(name)}">'
    fields += _password("password", "Present password", "current-password")
    fields += _password("new", "New password", "new-password") + _METER
    fields += _password("again", "New password again", "new-password")
    lead = "Four words that do not belong together will do. It ends your sessions elsewhere."
    return _form(f"Password of {name}", says, to, fields, "Change password", lead)


def _password(name: str, label: str, kind: str) -> str:
    return (
        f'<label for="{name}">{label}</label>\n          <input id="{name}" name="{name}" type="password" '
        f'autocomplete="{kind}" required maxlength="256">\n          '
    )


def _form(heading: str, says: str, action: str, fields: str, button: str, lead: str) -> str:
    told = f'<p class="said" role="alert">{escape(says)}</p>' if says else ""
    look, sign, shows = (whole(f"/assets/{name}") for name in ("look.css", "sign.svg", "password.js"))
    return _FRAME.format(
        title=heading[0].lower() + heading[1:], heading=escape(heading), said=told, action=escape(whole(action)),
        fields=fields, button=button, lead=lead, scheme=SCHEME, look=look, sign=sign, shows=shows,
    )  # fmt: skip
