import dash
from dash import html
dash.register_page(__name__, path="/aircraft" if "aircraft"!="fleet" else "/", title="aircraft", layout=lambda **q: html.P("aircraft"))
