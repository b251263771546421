//! The folder of the demonstration's records.

use std::{
    fs::{self, DirBuilder},
    os::unix::fs::DirBuilderExt as _,
    path::{Path, PathBuf},
};

use infra::clock::{IdSource as _, UuidV7Source};

use super::DemoError;

/// A fresh folder that nobody else can look into, removed with all that is in it.
pub(super) struct Folder(PathBuf);

impl Folder {
    /// Makes it.
    ///
    /// # Errors
    /// [`DemoError::Folder`].
    pub(super) fn make() -> Result<Self, DemoError> {
        let folder = std::env::temp_dir().join(format!("wearcourse-demo-{}", UuidV7Source.uuid()));
        match DirBuilder::new().mode(0o700).create(&folder) {
            Ok(()) => Ok(Self(folder)),
            Err(source) => Err(DemoError::Folder { folder, source }),
        }
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.0
    }

    /// Removes it and says so if it cannot.
    ///
    /// # Errors
    /// [`DemoError::Folder`].
    pub(super) fn remove(self) -> Result<(), DemoError> {
        fs::remove_dir_all(&self.0).map_err(|source| DemoError::Folder {
            folder: self.0.clone(),
            source,
        })
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // After a failure there is something more important to tell; after `remove` nothing is left.
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[cfg(test)]
mod tests {
    use super::Folder;

    #[test]
    fn the_folder_goes_with_what_is_in_it() {
        let folder = Folder::make().expect("a folder");
        let path = folder.0.clone();
        std::fs::write(path.join("demo.sqlite"), "x").expect("a file");
        folder.remove().expect("removed");
        assert!(!path.exists());
    }
}
