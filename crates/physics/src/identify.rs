//! What an object is, from the readings of a test.
