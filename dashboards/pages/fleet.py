import dash
from dash import html
dash.register_page(__name__, path="/fleet" if "fleet"!="fleet" else "/", title="fleet", layout=lambda **q: html.P("fleet"))
