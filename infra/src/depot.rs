//! A place for large files: a folder of this machine, or a bucket of an S3-compatible store.
//!
//! A file appears whole or not at all: a folder gets it under another name first (`part-0.parquet#1`) and a bucket in parts
//! that become an object with the last call. On disk it is synced before it appears. What a killed run left under such a name
//! is taken away when the file is written again.

use std::{
    fmt::Write as _,
    fs,
    io::{Error as IoFault, ErrorKind},
    path::PathBuf,
    sync::Arc,
};

#[cfg(any(test, feature = "testing"))]
use futures_util::TryStreamExt as _;
use object_store::{
    Error as StoreFault, GetOptions, ObjectStore, ObjectStoreExt as _, PutPayload, WriteMultipart,
    aws::AmazonS3Builder,
    local::LocalFileSystem,
    path::{Path, PathPart},
};
use reqwest::Url;

/// How many bytes travel at once: above the 5 MiB that S3 asks of every part but the last.
const PART: usize = 8 * 1024 * 1024;
/// How many parts may be under way; the memory of an upload is bounded by it.
const UNDER_WAY: usize = 2;

/// Why a depot cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum DepotError {
    /// The address is of no kind that is known.
    #[error("`{0}` is neither `file:///FOLDER` nor `s3://BUCKET/PREFIX`")]
    Address(String),
    /// The folder is not there: it is not made, because a slip in its name would fill another disk.
    #[error("the folder of `{0}` is not there; make it first")]
    NoFolder(String),
    /// The store refused, or did not answer.
    #[error("the depot did not do it")]
    Store(#[from] StoreFault),
    /// What an earlier run left cannot be taken away.
    #[error("what an earlier run left cannot be taken away")]
    Left(#[from] IoFault),
}

/// Where files are put, below one address. Names are words of this program or were made safe by [`safe_name`].
#[derive(Debug, Clone)]
pub struct Depot {
    store: Arc<dyn ObjectStore>,
    root: Path,
    /// The folder, where it is one of this machine.
    folder: Option<PathBuf>,
}

/// What tells one writing of a file from another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark(String);

impl Depot {
    /// Opens `file:///FOLDER` or `s3://BUCKET/PREFIX`. Region, endpoint and credentials of a bucket are read from the
    /// environment by the names that other programs use (`AWS_REGION`, `AWS_ENDPOINT_URL`, `AWS_ACCESS_KEY_ID`).
    ///
    /// # Errors
    /// [`DepotError`]: an address of another kind, or a folder that is not there.
    pub fn open(address: &str) -> Result<Self, DepotError> {
        // What stands before an `@` may be a secret.
        let told = address.rsplit_once('@').map_or(address, |(_, rest)| rest);
        let unknown = || DepotError::Address(told.to_owned());
        let url = Url::parse(address).map_err(|_unread| unknown())?;
        let is_plain = url.query().is_none()
            && url.fragment().is_none()
            && url.username().is_empty()
            && url.password().is_none()
            && url.port().is_none();
        if !is_plain {
            return Err(unknown());
        }
        match url.scheme() {
            "file" => {
                let folder = url.to_file_path().map_err(|()| unknown())?;
                if !folder.is_dir() {
                    return Err(DepotError::NoFolder(address.to_owned()));
                }
                let store = LocalFileSystem::new_with_prefix(&folder)?
                    .with_automatic_cleanup(true)
                    .with_fsync(true);
                Ok(Self {
                    store: Arc::new(store),
                    root: Path::default(),
                    folder: Some(folder),
                })
            }
            "s3" => {
                let bucket = url.host_str().ok_or_else(unknown)?;
                let root = Path::from_url_path(url.path()).map_err(StoreFault::from)?;
                let store = AmazonS3Builder::from_env()
                    .with_bucket_name(bucket)
                    .build()?;
                Ok(Self {
                    store: Arc::new(store),
                    root,
                    folder: None,
                })
            }
            _ => Err(unknown()),
        }
    }

    fn at(&self, names: &[&str]) -> Path {
        let mut path = self.root.clone();
        for name in names {
            // What is encoded already is not encoded again.
            let part = PathPart::parse(name).unwrap_or_else(|_unsafe| PathPart::from(*name));
            path = path.join(part);
        }
        path
    }

    /// What is in a file; none where there is no such file.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn read(&self, names: &[&str]) -> Result<Option<Vec<u8>>, DepotError> {
        let path = self.at(names);
        match self.store.get_opts(&path, GetOptions::default()).await {
            Ok(found) => Ok(Some(found.bytes().await?.to_vec())),
            Err(StoreFault::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Puts a small file, in the place of the one that is there.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn put(&self, names: &[&str], bytes: Vec<u8>) -> Result<(), DepotError> {
        let payload = PutPayload::from(bytes);
        self.store.put(&self.at(names), payload).await?;
        Ok(())
    }

    /// Takes a file away; nothing happens where there is none.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn delete(&self, names: &[&str]) -> Result<(), DepotError> {
        match self.store.delete(&self.at(names)).await {
            Ok(()) | Err(StoreFault::NotFound { .. }) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }

    /// The folders directly below one.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn folders(&self, names: &[&str]) -> Result<Vec<String>, DepotError> {
        let path = self.at(names);
        let found = self.store.list_with_delimiter(Some(&path)).await?;
        let last = |path: &Path| path.filename().map(str::to_owned);
        Ok(found.common_prefixes.iter().filter_map(last).collect())
    }

    /// What tells the file that is there from others under its name; none where there is none, or the store tells nothing.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn mark(&self, names: &[&str]) -> Result<Option<Mark>, DepotError> {
        match self.store.head(&self.at(names)).await {
            Ok(found) => Ok(found.e_tag.map(Mark)),
            Err(StoreFault::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Begins a large file. Nobody sees it before [`Upload::finish`].
    ///
    /// # Errors
    /// [`DepotError::Store`]. [`DepotError::Left`]: what a killed run left of it cannot be taken away.
    pub async fn begin(&self, names: &[&str]) -> Result<Upload, DepotError> {
        self.take_away_left(names)?;
        let upload = self.store.put_multipart(&self.at(names)).await?;
        Ok(Upload(WriteMultipart::new_with_chunk_size(upload, PART)))
    }

    /// A store on disk hides the names of files that are not whole; other readers of the folder do not.
    fn take_away_left(&self, names: &[&str]) -> Result<(), IoFault> {
        let (Some(folder), Some((file, above))) = (&self.folder, names.split_last()) else {
            return Ok(());
        };
        let place = above
            .iter()
            .fold(folder.clone(), |path, name| path.join(name));
        let entries = match fs::read_dir(place) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
            entries => entries?,
        };
        for entry in entries {
            let entry = entry?;
            let name = entry.file_name();
            let rest = name.to_str().and_then(|name| name.strip_prefix(file));
            if rest.is_some_and(|rest| rest.starts_with('#')) {
                fs::remove_file(entry.path())?;
            }
        }
        Ok(())
    }

    /// The names of all files, for tests.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    #[cfg(any(test, feature = "testing"))]
    pub async fn all(&self) -> Result<Vec<String>, DepotError> {
        let found: Vec<_> = self.store.list(Some(&self.root)).try_collect().await?;
        let mut names: Vec<String> = found.iter().map(|one| one.location.to_string()).collect();
        names.sort();
        Ok(names)
    }
}

/// A file that is being written.
#[derive(Debug)]
pub struct Upload(WriteMultipart);

impl Upload {
    /// Writes what follows; waits while too much of it is under way.
    ///
    /// # Errors
    /// [`DepotError::Store`]: an earlier part was refused.
    pub async fn write(&mut self, bytes: &[u8]) -> Result<(), DepotError> {
        for part in bytes.chunks(PART) {
            self.0.wait_for_capacity(UNDER_WAY).await?;
            self.0.write(part);
        }
        Ok(())
    }

    /// Makes the file seen, in the place of the one that is there.
    ///
    /// # Errors
    /// [`DepotError::Store`]: what was there is there still.
    pub async fn finish(self) -> Result<Option<Mark>, DepotError> {
        Ok(self.0.finish().await?.e_tag.map(Mark))
    }

    /// Forgets it. An upload that is only dropped leaves its parts in a bucket until the bucket's own rules remove them.
    ///
    /// # Errors
    /// [`DepotError::Store`].
    pub async fn abort(self) -> Result<(), DepotError> {
        Ok(self.0.abort().await?)
    }
}

/// A name that is one step of a path on every store and in every reader, whatever text it is made of: what is no ASCII
/// letter, digit, `-`, `_` or `.` is written as its bytes, as in a URL; so are dots that would stand alone.
pub fn safe_name(text: &str) -> String {
    let is_dots = text.bytes().all(|byte| byte == b'.');
    let plain =
        |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.') && !is_dots;
    let mut name = String::with_capacity(text.len());
    for byte in text.bytes() {
        if plain(byte) {
            name.push(char::from(byte));
        } else {
            // Writing to a string does not fail.
            let _ = write!(name, "%{byte:02X}");
        }
    }
    name
}

#[cfg(test)]
mod tests {
    use super::{Depot, DepotError, PART, safe_name};

    fn folder() -> (tempfile::TempDir, Depot) {
        let folder = tempfile::tempdir().unwrap();
        let address = format!("file://{}", folder.path().display());
        let depot = Depot::open(&address).unwrap();
        (folder, depot)
    }

    #[tokio::test]
    async fn a_file_is_seen_when_it_is_whole_and_never_before() {
        let (folder, depot) = folder();
        let names = ["tenant=a", "month=2026-10", "part-0.parquet"];
        depot.put(&names, b"before".to_vec()).await.unwrap();
        let before = depot.mark(&names).await.unwrap();
        let whole: Vec<u8> = (0..=255).cycle().take(2 * PART + 17).collect();
        let mut upload = depot.begin(&names).await.unwrap();
        upload.write(&whole).await.unwrap();
        let read = async || depot.read(&names).await.unwrap().unwrap();
        assert_eq!(read().await, b"before");
        let mark = upload.finish().await.unwrap();
        assert!(read().await == whole);
        assert_eq!(mark, depot.mark(&names).await.unwrap());
        assert_ne!(mark, before);
        // What a killed run left.
        let month = folder.path().join("tenant=a").join("month=2026-10");
        std::fs::write(month.join("part-0.parquet#7"), b"half").unwrap();
        let mut cut = depot.begin(&names).await.unwrap();
        assert!(!month.join("part-0.parquet#7").exists());
        cut.write(b"half").await.unwrap();
        cut.abort().await.unwrap();
        assert!(read().await == whole);
        assert_eq!(
            depot.all().await.unwrap(),
            ["tenant=a/month=2026-10/part-0.parquet"]
        );
        assert_eq!(
            depot.folders(&["tenant=a"]).await.unwrap(),
            ["month=2026-10"]
        );
        depot.delete(&names).await.unwrap();
        depot.delete(&names).await.unwrap();
        assert_eq!(depot.read(&names).await.unwrap(), None);
        assert!(folder.path().is_dir());
    }

    #[tokio::test]
    async fn no_name_leads_out_of_the_folder() {
        let (folder, depot) = folder();
        for text in [
            "../../x", "..", ".", "a/b", "a\\b", "%2e%2e", "=", "#1", "ü", "~",
        ] {
            let name = safe_name(text);
            let is_safe = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.%".contains(&byte);
            assert!(name.bytes().all(is_safe), "{name}");
            depot.put(&[&name, "file"], Vec::new()).await.unwrap();
            assert!(
                depot.read(&[&name, "file"]).await.unwrap().is_some(),
                "{text}"
            );
            assert!(folder.path().join(&name).join("file").is_file(), "{text}");
        }
        assert_eq!(depot.all().await.unwrap().len(), 10);
    }

    #[test]
    fn an_address_of_another_kind_is_refused() {
        for bad in [
            "",
            "/srv/x",
            "ftp://x/y",
            "file:///x?y",
            "s3://",
            "s3://key:secret@bucket/x",
            "s3://key@bucket/x",
            "s3://bucket:9000/x",
            "https://x/y",
        ] {
            assert!(
                matches!(Depot::open(bad), Err(DepotError::Address(_))),
                "{bad}"
            );
        }
        let told = Depot::open("s3://key:secret@bucket/x").unwrap_err();
        assert!(!told.to_string().contains("secret"), "{told}");
        let missing = Depot::open("file:///nowhere/at/all");
        assert!(matches!(missing, Err(DepotError::NoFolder(_))));
    }
}
