//! What is known of the request that is being served: its id and the address under which callers see us.
//!
//! Kept beside the task rather than passed through every signature, because the one reader, the problem answer,
//! is made where the framework gives no request.

use std::future::Future;

use infra::clock::{IdSource as _, UuidV7Source};
use uuid::Uuid;

/// How long an id sent by the caller may be.
const MAX_ID: usize = 64;

/// The id of a request and the public address of the service.
#[derive(Debug, Clone)]
pub(crate) struct Call {
    /// What `X-Request-Id` says: the caller's own id if it is sane, else a new one.
    pub(crate) id: String,
    /// A UUID that names this one request.
    pub(crate) uuid: Uuid,
    /// What comes before a path to make it absolute; empty if no public address is configured.
    pub(crate) base: String,
}

tokio::task_local! {
    static CALL: Call;
}

impl Call {
    /// Takes the caller's request id if it is 1 to 64 letters, digits, `-`, `_` or `.`, else makes one.
    ///
    /// Ids of requests are not drawn from the source of stored ids: they name nothing that is kept.
    pub(crate) fn new(sent: Option<&str>, base: &str) -> Self {
        let sane = |id: &&str| {
            (1..=MAX_ID).contains(&id.len())
                && id
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b))
        };
        let sent = sent.filter(sane);
        let uuid = sent
            .and_then(|id| Uuid::try_parse(id).ok())
            .unwrap_or_else(|| UuidV7Source.uuid());
        let id = sent.map_or_else(|| uuid.to_string(), str::to_owned);
        Self {
            id,
            uuid,
            base: base.to_owned(),
        }
    }

    /// Serves a request under this name.
    pub(crate) async fn scope<F: Future>(self, work: F) -> F::Output {
        CALL.scope(self, work).await
    }
}

/// The call that is being served; none outside of one.
pub(crate) fn current() -> Option<Call> {
    CALL.try_with(Clone::clone).ok()
}

/// Makes a path absolute if the public address is known.
pub(crate) fn absolute(path: &str) -> String {
    CALL.try_with(|call| format!("{}{path}", call.base))
        .unwrap_or_else(|_| path.to_owned())
}

#[cfg(test)]
mod tests {
    use super::Call;

    #[test]
    fn a_sane_id_of_the_caller_is_kept_and_any_other_replaced() {
        assert_eq!(Call::new(Some("job-7.a_b"), "").id, "job-7.a_b");
        let long = "a".repeat(65);
        for bad in ["", "a b", "a\u{1b}[31m", "ä", long.as_str()] {
            assert_ne!(Call::new(Some(bad), "").id, bad);
        }
    }
}
