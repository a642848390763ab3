"""Commands about one stop: open the app, rank causes, list cases, write the handover sheet."""
