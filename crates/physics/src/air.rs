//! The air round a test: its density and humidity, and what a gap in it withstands.
