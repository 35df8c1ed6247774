//! What a discharged object gives back, and what that says of its losses.
