import dash
from dash import html
dash.register_page(__name__, path="/entries" if "entries"!="fleet" else "/", title="entries", layout=lambda **q: html.P("entries"))
