"""The Tidepool quilt catalog, invented for the demo."""
