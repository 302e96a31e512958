"""The version of onecrew that runs here; the package takes its own from this line."""

VERSION = "0.1.0"
