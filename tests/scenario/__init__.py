"""The demo originals of the Skerrow Isles: pictures and files made from code, the same ones on every run."""
