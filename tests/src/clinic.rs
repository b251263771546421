//! The clinic (under construction).
