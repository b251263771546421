//! Knowledge base on the wire.
