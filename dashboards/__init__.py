"""Pages over what ``analyzer`` finds; ``analyzer`` never imports this package."""
