"""The calibration room."""
