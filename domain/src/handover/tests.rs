//! Laws of what becomes of spaces, and files that are broken or made to do harm.

mod broken;
mod laws;
mod work;
