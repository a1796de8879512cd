import dash
from dash import html
dash.register_page(__name__, path="/bring-in" if "bring_in"!="fleet" else "/", title="bring_in", layout=lambda **q: html.P("bring_in"))
