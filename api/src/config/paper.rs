//! What sheets are printed with.

use std::path::PathBuf;

use super::source::Source;

/// Letters beyond those that the program brings along.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PaperConfig {
    /// `WEARCOURSE_FONTS`, a folder; none if not set.
    pub fonts: Option<PathBuf>,
}

impl PaperConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let fonts = source.text("WEARCOURSE_FONTS").map(PathBuf::from);
        if fonts.as_ref().is_some_and(|folder| !folder.is_dir()) {
            source.fault("WEARCOURSE_FONTS", "must be a folder that is there");
        }
        Self { fonts }
    }
}
