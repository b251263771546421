//! The issuer's published keys, read again while the service runs, so that keys rotate without a restart.
//!
//! A set is believed for as long as its `Cache-Control` says, but for 5 minutes at least and 24 hours at most; then it is
//! read again, and a key that is gone is refused from then on. A token with the id of a key that is not in the set has it
//! read at once, but not more than once in 30 seconds. If it cannot be read, the keys that were read last go on counting.

use std::{
    fmt,
    fs::File,
    io::{self, Read as _},
    path::PathBuf,
    sync::{Arc, PoisonError, RwLock},
    time::Duration,
};

use chrono::{DateTime, TimeDelta, Utc};
use jsonwebtoken::Algorithm;
use reqwest::{header, redirect::Policy};
use tokio::sync::Mutex;

use super::{jwks, key::VerifyKey};
use crate::config::JwksSource;

/// The shortest time for which a set is believed.
const LEAST: TimeDelta = TimeDelta::minutes(5);
/// The longest time for which a set is believed.
const MOST: TimeDelta = TimeDelta::hours(24);
/// The time between two attempts to read a set.
const PAUSE: TimeDelta = TimeDelta::seconds(30);
/// The same as long as none was read.
const FIRST_PAUSE: TimeDelta = TimeDelta::seconds(2);
/// How long reading a set may take.
const DEADLINE: Duration = Duration::from_secs(3);
/// The longest set, in bytes.
const MAX_SET: usize = 256 * 1024;

/// The keys of a set; shared, because every request takes them.
pub(crate) type Keys = Arc<[VerifyKey]>;

/// Why a set could not be read.
#[derive(Debug, thiserror::Error)]
enum ReadError {
    /// The file cannot be read.
    #[error("the file cannot be read")]
    File(#[source] std::io::Error),
    /// The issuer cannot be reached, or is too slow.
    #[error("the issuer does not answer")]
    Fetch(#[from] reqwest::Error),
    /// The issuer answers with something else.
    #[error("the issuer answers with status {0}")]
    Status(u16),
    /// More than 256 KiB.
    #[error("the key set is too large")]
    TooLarge,
    /// Not a key set.
    #[error("what was read is not a key set")]
    NotASet,
}

/// The keys that an issuer publishes.
pub(crate) struct Published {
    source: JwksSource,
    algorithm: Algorithm,
    http: reqwest::Client,
    state: RwLock<State>,
    /// Held by the one request that reads the set.
    turn: Mutex<()>,
}

#[derive(Default)]
struct State {
    keys: Option<Keys>,
    good_until: DateTime<Utc>,
    asked_at: Option<DateTime<Utc>>,
}

impl Published {
    /// The keys at a source; nothing is read before the first token.
    ///
    /// # Errors
    /// What the HTTP client says of its surroundings.
    pub(crate) fn new(source: JwksSource, algorithm: Algorithm) -> Result<Self, reqwest::Error> {
        // An issuer is asked at its own address and nowhere else: no proxy, no redirect.
        let http = reqwest::Client::builder()
            .no_proxy()
            // HTTP/2 is compiled in for another crate.
            .http1_only()
            .redirect(Policy::none())
            .timeout(DEADLINE)
            // A connection belongs to the thread that made it, and threads of the service come and go.
            .pool_max_idle_per_host(0)
            .build()?;
        Ok(Self {
            source,
            algorithm,
            http,
            state: RwLock::default(),
            turn: Mutex::default(),
        })
    }

    /// The keys that count now; `None` if none could be read yet.
    pub(crate) async fn keys(&self, now: DateTime<Utc>) -> Option<Keys> {
        let (keys, good_until) = self.known();
        if keys.is_some() && now < good_until {
            return keys;
        }
        let _turn = if keys.is_some() {
            // Others go on with what is known while one reads.
            let Ok(turn) = self.turn.try_lock() else {
                return keys;
            };
            turn
        } else {
            self.turn.lock().await
        };
        let (_, good_until) = self.known();
        if now >= good_until {
            let _renewed = self.renew(now).await;
        }
        self.known().0
    }

    /// The keys after reading the set anew, for a token whose key is not among those `seen`; `None` if the set was tried
    /// lately or cannot be read.
    pub(crate) async fn renewed(&self, seen: &Keys, now: DateTime<Utc>) -> Option<Keys> {
        let _turn = self.turn.lock().await;
        let (known, _) = self.known();
        if known.as_ref().is_some_and(|keys| !Arc::ptr_eq(keys, seen)) {
            // Somebody read it while this one waited.
            return known;
        }
        if self.renew(now).await {
            self.known().0
        } else {
            None
        }
    }

    fn known(&self) -> (Option<Keys>, DateTime<Utc>) {
        let state = self.state.read().unwrap_or_else(PoisonError::into_inner);
        (state.keys.clone(), state.good_until)
    }

    /// Reads the set unless it was tried lately; whether there are new keys.
    async fn renew(&self, now: DateTime<Utc>) -> bool {
        {
            let mut state = self.state.write().unwrap_or_else(PoisonError::into_inner);
            let pause = if state.keys.is_some() {
                PAUSE
            } else {
                FIRST_PAUSE
            };
            if lately(state.asked_at, now, pause) {
                return false;
            }
            state.asked_at = Some(now);
        }
        let read = match &self.source {
            JwksSource::File(path) => read_file(path.clone()).await.map(|text| (text, LEAST)),
            JwksSource::Url(url) => self.fetch(url).await,
        };
        let read = read.and_then(|(text, life)| {
            let keys = jwks::read(self.algorithm, &text).ok_or(ReadError::NotASet)?;
            Ok((keys, life))
        });
        match read {
            Ok((keys, life)) => {
                tracing::info!(n_keys = keys.len(), "read the issuer's keys");
                let mut state = self.state.write().unwrap_or_else(PoisonError::into_inner);
                state.keys = Some(keys.into());
                state.good_until = now.checked_add_signed(life).unwrap_or(now);
                true
            }
            Err(error) => {
                let error: &dyn std::error::Error = &error;
                tracing::warn!(error, "the issuer's keys cannot be read");
                false
            }
        }
    }

    async fn fetch(&self, url: &str) -> Result<(Vec<u8>, TimeDelta), ReadError> {
        let mut answer = self.http.get(url).send().await?;
        if answer.status() != reqwest::StatusCode::OK {
            return Err(ReadError::Status(answer.status().as_u16()));
        }
        let cached = answer.headers().get_all(header::CACHE_CONTROL).iter();
        let cached: Vec<&str> = cached.filter_map(|value| value.to_str().ok()).collect();
        let life = life(&cached.join(","));
        let mut text = Vec::new();
        while let Some(part) = answer.chunk().await? {
            if text.len().saturating_add(part.len()) > MAX_SET {
                return Err(ReadError::TooLarge);
            }
            text.extend_from_slice(&part);
        }
        Ok((text, life))
    }
}

/// The bytes of a file, read where a slow disk holds nobody up.
async fn read_file(path: PathBuf) -> Result<Vec<u8>, ReadError> {
    let read = move || {
        let limit = u64::try_from(MAX_SET).unwrap_or(u64::MAX);
        let mut text = Vec::new();
        File::open(path)?
            .take(limit.saturating_add(1))
            .read_to_end(&mut text)?;
        Ok(text)
    };
    let read = tokio::task::spawn_blocking(read).await;
    let text: io::Result<Vec<u8>> = read.map_err(|error| ReadError::File(error.into()))?;
    let text = text.map_err(ReadError::File)?;
    if text.len() > MAX_SET {
        return Err(ReadError::TooLarge);
    }
    Ok(text)
}

impl fmt::Debug for Published {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Published")
            .field("source", &self.source)
            .finish_non_exhaustive()
    }
}

fn lately(asked_at: Option<DateTime<Utc>>, now: DateTime<Utc>, pause: TimeDelta) -> bool {
    asked_at.is_some_and(|asked| now.signed_duration_since(asked) < pause)
}

/// How long a set is believed whose `Cache-Control` (RFC 9111) is this.
fn life(cache_control: &str) -> TimeDelta {
    let directives = cache_control.split(',').map(str::trim);
    let mut seconds = None;
    for directive in directives {
        let (name, value) = directive.split_once('=').unwrap_or((directive, ""));
        if name.eq_ignore_ascii_case("no-store") || name.eq_ignore_ascii_case("no-cache") {
            return LEAST;
        }
        if name.eq_ignore_ascii_case("max-age") {
            seconds = value.trim_matches('"').parse::<u32>().ok();
        }
    }
    let asked = seconds.map_or(LEAST, |seconds| TimeDelta::seconds(seconds.into()));
    asked.clamp(LEAST, MOST)
}

#[cfg(test)]
mod tests {
    use super::{LEAST, MAX_SET, MOST, ReadError, life, read_file};
    use chrono::TimeDelta;

    #[tokio::test]
    async fn a_file_is_read_whole_or_refused() {
        let path = std::env::temp_dir().join(format!("wearcourse-keys-{}", std::process::id()));
        for (n_bytes, is_read) in [(MAX_SET, true), (MAX_SET + 1, false)] {
            std::fs::write(&path, vec![b' '; n_bytes]).unwrap();
            let read = read_file(path.clone()).await;
            assert_eq!(
                read.is_ok_and(|text| text.len() == n_bytes),
                is_read,
                "{n_bytes}"
            );
        }
        std::fs::remove_file(&path).unwrap();
        let gone = read_file(path).await;
        assert!(matches!(gone, Err(ReadError::File(_))), "{gone:?}");
    }

    #[test]
    fn a_set_is_believed_for_five_minutes_to_a_day() {
        for (header, expected) in [
            ("", LEAST),
            ("max-age=0", LEAST),
            ("public, max-age=3600", TimeDelta::hours(1)),
            ("Max-Age=\"600\"", TimeDelta::minutes(10)),
            ("max-age=31536000, immutable", MOST),
            ("max-age=3600, no-cache", LEAST),
            ("no-store", LEAST),
            ("max-age=soon", LEAST),
            ("max-age=99999999999999999999", LEAST),
        ] {
            assert_eq!(life(header), expected, "{header}");
        }
    }
}
