//! Tests of the scheduling engine.

mod answers;
mod lagged;
mod large;
mod made;
mod oracle;
mod pieces;
mod planted;
mod prospects;
mod reasons;
mod repairs;
mod wild;
