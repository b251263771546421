//! Finding rows of the knowledge base by their keys.

use super::{
    AsbestosCutoff, Facts, FinishMeaning, Hold, HoldPoint, IdentificationTest, KnowledgeBase,
    Machine, Material, Pad, Process, Product, ProductClass, Question, Rule, Truth, folded,
};

impl KnowledgeBase {
    /// A material by its key.
    pub fn material(&self, key: &str) -> Option<&Material> {
        self.materials.iter().find(|row| row.key == key)
    }

    /// A process by its key.
    pub fn process(&self, key: &str) -> Option<&Process> {
        self.processes.iter().find(|row| row.key == key)
    }

    /// A product by its key.
    pub fn product(&self, key: &str) -> Option<&Product> {
        self.products.iter().find(|row| row.key == key)
    }

    /// A class of products by its key.
    pub fn product_class(&self, key: &str) -> Option<&ProductClass> {
        self.product_classes.iter().find(|row| row.key == key)
    }

    /// A rule by its id.
    pub fn rule(&self, id: &str) -> Option<&Rule> {
        self.rules.iter().find(|row| row.id == id)
    }

    /// A pad by its colour.
    pub fn pad(&self, key: &str) -> Option<&Pad> {
        self.pads.iter().find(|row| row.key == key)
    }

    /// A machine by its key.
    pub fn machine(&self, key: &str) -> Option<&Machine> {
        self.machines.iter().find(|row| row.key == key)
    }

    /// A wait by its key.
    pub fn hold(&self, key: &str) -> Option<&Hold> {
        self.holds.iter().find(|row| row.key == key)
    }

    /// A hold point by its key, as it stands for a floor of which `facts` are known.
    pub fn hold_point(&self, key: &str, facts: &Facts<'_>) -> Option<&HoldPoint> {
        let mut rows = self.hold_points.iter().filter(|row| row.key == key);
        rows.find(|row| row.when.holds(facts) == Truth::True)
    }

    /// A field test by its key.
    pub fn identification_test(&self, key: &str) -> Option<&IdentificationTest> {
        self.identification.iter().find(|row| row.key == key)
    }

    /// The question for a fact, by the fact's name.
    pub fn question(&self, fact: &str) -> Option<&Question> {
        self.questions.iter().find(|row| row.fact == fact)
    }

    /// The first year in which a country presumes no asbestos in its floors.
    pub fn asbestos_cutoff(&self, country: &str) -> Option<&AsbestosCutoff> {
        let of = |wanted: &str| {
            self.asbestos_cutoffs
                .iter()
                .find(|row| row.country == wanted)
        };
        of(country).or_else(|| of("*"))
    }

    /// What a finish word of building data means: an exact match after trimming, folding blanks and ignoring case.
    pub fn finish(&self, text: &str) -> FinishMeaning<'_> {
        let word = folded(text);
        match self
            .finishes
            .iter()
            .find(|row| row.word == word)
            .map(|row| row.means.as_str())
        {
            None => FinishMeaning::NotFound,
            Some("soft") => FinishMeaning::Soft,
            Some("mixed") => FinishMeaning::Mixed,
            Some(key) => self
                .material(key)
                .map_or(FinishMeaning::NotFound, FinishMeaning::Hard),
        }
    }
}
