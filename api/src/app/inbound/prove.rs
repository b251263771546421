//! Whether a message comes from the source that its address names. There is one answer for every reason why not, and the
//! same work is done for each, so that nobody learns which sources there are.

use domain::id::{ContractorId, SourceId, TenantId};
use infra::{
    row::{ContractorSourceRow, SourceStatus},
    store::By,
};

use crate::{
    app::contractor_source::{named, place},
    body::RawRequest,
    context::Context,
    problem::{Code, Problem},
    signature::{self, WebhookSecret},
};

/// A source whose message was proven to be its own.
#[derive(Debug)]
pub(crate) struct Proven {
    /// Whose records it writes.
    pub(crate) tenant: TenantId,
    /// The source.
    pub(crate) id: SourceId,
    /// The only contractor that it may report for.
    pub(crate) contractor: ContractorId,
}

impl Proven {
    /// Who writes, as it is kept with what is written.
    pub(crate) fn by(&self) -> By {
        By {
            client: self.id.to_string(),
            subject: self.contractor.to_string(),
        }
    }
}

/// Proves a message by its signature over the bytes that arrived; answers its source and the id of the message.
///
/// # Errors
/// `not_proven`, in one text for an unknown or disabled source, a header that is missing or malformed, a stale moment and a
/// wrong signature; those of the store.
pub(crate) async fn prove(
    ctx: &Context,
    token: &str,
    raw: &RawRequest,
) -> Result<(Proven, String), Problem> {
    let nobody = (
        TenantId::from_uuid(uuid::Uuid::nil()),
        SourceId::from_uuid(uuid::Uuid::nil()),
    );
    let (tenant, id) = named(token).unwrap_or(nobody);
    let glance = ctx.store.glance(tenant);
    let row = glance.contractor_sources().get(id).await?;
    let secrets = secrets(ctx, tenant, row.as_ref())?;
    let now = ctx.clock.now();
    let proven = signature::verify(&secrets, &raw.headers, &raw.body, now);
    let row = row.filter(|row| row.status == SourceStatus::Enabled);
    match (row, proven) {
        (Some(row), Ok(message)) => {
            let source = Proven {
                tenant,
                id: row.id,
                contractor: row.contractor_id,
            };
            Ok((source, message.to_owned()))
        }
        (None, _) | (_, Err(_)) => {
            tracing::info!(source = %id, "a message was not proven");
            Err(not_proven())
        }
    }
}

fn not_proven() -> Problem {
    let detail = "The message is not proven to come from this address's source.";
    Problem::new(Code::NotProven, detail)
}

/// Two secrets, always: the one of now, and the one before or, where there is none that counts, one that nobody knows.
fn secrets(
    ctx: &Context,
    tenant: TenantId,
    row: Option<&ContractorSourceRow>,
) -> Result<[WebhookSecret; 2], Problem> {
    let now = ctx.clock.now();
    let previous = row.and_then(|row| row.previous.as_ref());
    let previous = previous.filter(|(_, until)| *until > now);
    let sealed = [
        row.map(|row| row.secret.as_str()),
        previous.map(|(sealed, _)| sealed.as_str()),
    ];
    let [current, before] = sealed.map(|sealed| {
        let Some((sealed, row)) = sealed.zip(row) else {
            return Ok(WebhookSecret::generate()?);
        };
        let bytes = ctx.seals.open(&place(tenant, row.id), sealed)?;
        WebhookSecret::from_bytes(bytes).ok_or_else(|| Problem::internal(&BadSecret))
    });
    Ok([current?, before?])
}

/// What was sealed is not a secret.
#[derive(Debug, thiserror::Error)]
#[error("the sealed secret of a source has no length that a secret has")]
struct BadSecret;
