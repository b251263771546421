//! What is learnt at a site, figure by figure, and whether plans use it.

use domain::{
    card::RateCard,
    id::{ContractorId, SiteId, TenantId},
    learning::{Kind, Learnt, LearntFigure, SetAside, Who},
};

use super::{
    LEAST_JOBS, latest, learnt,
    subject::{Subject, believed, subjects},
};
use crate::{
    app::site::{self, Site},
    context::Context,
    problem::Problem,
};

/// Which of what was learnt is asked for.
#[derive(Debug, Clone, Default)]
pub(crate) struct LearntFilter {
    /// Of the work of this contractor; of all who worked there without one.
    pub(crate) contractor: Option<ContractorId>,
    /// The contractor whose work alone the caller may see.
    pub(crate) bound_to: Option<ContractorId>,
    /// Of this kind.
    pub(crate) kind: Option<Kind>,
    /// Of this activity or class of product.
    pub(crate) subject: Option<String>,
}

/// What is learnt of a figure at a site.
#[derive(Debug)]
pub(crate) struct LearntLine {
    /// What it is of, and what is usual.
    pub(crate) subject: Subject,
    /// What jobs tell, as a multiple of what is usual.
    pub(crate) figure: LearntFigure,
    /// Why plans use it, or do not.
    pub(crate) standing: Standing,
    /// Jobs that are not taken at their word.
    pub(crate) set_aside: Vec<SetAside>,
}

/// Whether plans use what was learnt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// They do.
    Used,
    /// The site's rate card tells another rate.
    Told,
    /// The site does not want it learnt.
    Off,
    /// Too few jobs have told it.
    TooFew,
}

impl Standing {
    /// The word on the wire.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Used => "used",
            Self::Told => "told_by_rate_card",
            Self::Off => "not_wanted",
            Self::TooFew => "too_few_jobs",
        }
    }
}

/// What is learnt at a site of figures that jobs there have told of: rates, then coverage, then dry times, each in the order of the
/// knowledge base; nothing of a site that is not there.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (id, filter): (SiteId, &LearntFilter),
) -> Result<Vec<LearntLine>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let Some(site) = site::load(&tx, id, Vec::new()).await? else {
        return Ok(Vec::new());
    };
    let now = ctx.clock.now();
    let (_row, card) = site::card_on(&tx, &site.row, site::day_of(&site.row, now)).await?;
    let month = site::month_of(&site.row, now);
    let asked = |kind: &&Kind| filter.kind.is_none_or(|asked| asked == **kind);
    let mut lines = Vec::new();
    for kind in Kind::ALL.iter().filter(asked) {
        let rows = latest(&tx, *kind, filter.bound_to).await?;
        if rows.is_empty() {
            continue;
        }
        let learnt = learnt(ctx.knowledge, *kind, (&rows, &month));
        for subject in subjects(ctx.knowledge, *kind) {
            let wanted = filter.subject.as_ref();
            if wanted.is_none_or(|wanted| *wanted == subject.key) {
                lines.extend(line(ctx, (&site, &card), (subject, &learnt), filter));
            }
        }
    }
    Ok(lines)
}

/// What is learnt of one subject, if a job has told of it.
fn line(
    ctx: &Context,
    (site, card): (&Site, &RateCard),
    (subject, learnt): (Subject, &Learnt),
    filter: &LearntFilter,
) -> Option<LearntLine> {
    let (kind, id) = (subject.kind, site.row.id);
    let who = filter.contractor;
    let who = who.map_or(Who::AsSoFar, |id| Who::Contractor(Some(id)));
    let figure = learnt.figure(&subject.key, id, who)?;
    let of_line = |job: &&SetAside| {
        let by = filter.contractor.is_none() || job.contractor == filter.contractor;
        job.subject == subject.key && job.site == id && by
    };
    let set_aside: Vec<SetAside> = learnt.set_aside.iter().filter(of_line).cloned().collect();
    let standing = if kind == Kind::Rate && card.rates.contains_key(&subject.key) {
        Standing::Told
    } else if site.not_learnt.contains(&kind.named(&subject.key)) {
        Standing::Off
    } else if figure.n_jobs < LEAST_JOBS {
        Standing::TooFew
    } else {
        Standing::Used
    };
    let is_told_of = figure.n_jobs > 0 || !set_aside.is_empty();
    is_told_of.then(|| LearntLine {
        figure: believed(ctx.knowledge, kind, figure),
        subject,
        standing,
        set_aside,
    })
}
