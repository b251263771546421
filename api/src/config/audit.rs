//! How long it is kept who did what.

use chrono::TimeDelta;

use super::source::Source;

/// The audit trail.
#[derive(Debug, Clone)]
pub struct AuditConfig {
    /// `WEARCOURSE_AUDIT_DAYS`, default 0: how long rows are kept by `wearcourse audit prune`; none: as long as their tenant.
    pub kept: Option<TimeDelta>,
}

impl AuditConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let days = source.number("WEARCOURSE_AUDIT_DAYS", 0, 0..=36_500);
        Self {
            kept: (days > 0).then(|| TimeDelta::days(days.into())),
        }
    }
}
