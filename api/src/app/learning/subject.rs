//! Of what is learnt: activities, classes of product and the film of water, each with what is usual of it.

use std::collections::BTreeMap;

use domain::{
    knowledge::KnowledgeBase,
    learning::{Kind, LearntFigure, Prior, WATER},
};

/// What a figure is of, and what is usual.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Subject {
    /// The kind of figure.
    pub(crate) kind: Kind,
    /// The key of the activity, or of the class of product.
    pub(crate) key: String,
    /// Its name for people; of a rate, that of the row in the knowledge base.
    pub(crate) name: String,
    /// In what: `m2/h` or `m/h` per operative, else `times` what is usual.
    pub(crate) unit: String,
    /// Below the first in few cases, usually, above the last in few.
    pub(crate) usual: [f64; 3],
}

/// All subjects of a kind, in the order of the knowledge base; an activity once for each of its rates.
pub(super) fn subjects(base: &KnowledgeBase, kind: Kind) -> Vec<Subject> {
    let learning = &base.spread.learning;
    let multiple = |key: &str, name: &str, usual: [f64; 3]| Subject {
        kind,
        key: key.to_owned(),
        name: name.to_owned(),
        unit: "times".to_owned(),
        usual,
    };
    let classes = |usual: [f64; 3]| {
        let classes = base.product_classes.iter();
        classes.map(move |row| multiple(&row.key, &row.name, usual))
    };
    match kind {
        Kind::Rate => {
            let rate = |row: &domain::knowledge::Rate| Subject {
                kind,
                key: row.activity.clone(),
                name: row.name.clone(),
                unit: format!("{}/h", row.unit),
                usual: row.per_h,
            };
            base.rates.iter().map(rate).collect()
        }
        Kind::Coverage => classes(learning.coverage.usual).collect(),
        Kind::DryTime => {
            let usual = learning.dry_time.usual;
            let water = multiple(WATER, "water of rinsing and mopping", usual);
            classes(usual).chain([water]).collect()
        }
    }
}

/// What each subject of a kind comes to beside what is usual: as usual, and as far off as its table goes.
pub(super) fn priors(base: &KnowledgeBase, kind: Kind) -> BTreeMap<String, Prior> {
    let mut priors = BTreeMap::new();
    for subject in subjects(base, kind) {
        let [low, typical, high] = subject.usual;
        if let Some(prior) = Prior::of_range([low / typical, 1.0, high / typical]) {
            // The first row of an activity stands for the others.
            priors.entry(subject.key).or_insert(prior);
        }
    }
    priors
}

/// A figure within the bounds beyond which none of its kind is believed.
pub(super) fn believed(base: &KnowledgeBase, kind: Kind, figure: LearntFigure) -> LearntFigure {
    let learning = &base.spread.learning;
    match kind {
        Kind::Rate => figure,
        Kind::Coverage => figure.held_within(learning.coverage.bounds),
        Kind::DryTime => figure.held_within(learning.dry_time.bounds),
    }
}

/// Whether a site may say that this is not learnt: an activity, or kind and class of product.
pub(crate) fn can_be_learnt(base: &KnowledgeBase, name: &str) -> bool {
    let mut kinds = Kind::ALL.iter();
    kinds.any(|kind| {
        let mut subjects = subjects(base, *kind).into_iter();
        subjects.any(|subject| kind.named(&subject.key) == name)
    })
}
