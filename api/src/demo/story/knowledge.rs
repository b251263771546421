//! What the service knows by name: read once, so that keys in answers can be told as people say them.

use std::{
    collections::{BTreeMap, BTreeSet},
    io::Write,
};

use super::{
    super::{
        DemoError,
        answer::{Named, Page, Rule},
        client::{Answer, Client},
        paper::Paper,
        words::{count, length, spoken},
    },
    show,
};

/// Names of materials and processes, and the rules that refuse.
pub(super) struct Knowledge {
    names: BTreeMap<String, String>,
    refusing: BTreeSet<String>,
}

impl Knowledge {
    /// Reads the tables and says how long they are.
    pub(super) async fn read<W: Write>(
        client: &Client,
        paper: &mut Paper<W>,
    ) -> Result<Self, DemoError> {
        let mut names = BTreeMap::new();
        for (path, row) in [("/v1/materials", "material"), ("/v1/processes", "process")] {
            let page: Answer<Page<Named>> = client.get(path).await?;
            show(paper, &page)?;
            let listed: Vec<_> = page
                .body
                .items
                .iter()
                .map(|row| row.name.as_str())
                .collect();
            paper.text(&format!(
                "{}: {}.",
                count(length(&listed), row),
                listed.join("; ")
            ))?;
            names.extend(page.body.items.into_iter().map(|row| (row.key, row.name)));
        }
        let mut page: Answer<Page<Rule>> = client.get("/v1/rules?limit=200").await?;
        show(paper, &page)?;
        let mut rules = page.body.items;
        while let Some(cursor) = page.body.next_cursor {
            let path = format!("/v1/rules?limit=200&cursor={cursor}");
            page = client.get(&path).await?;
            rules.append(&mut page.body.items);
        }
        let n_rules = count(length(&rules), "rule");
        let refusing = rules.into_iter().filter(|rule| rule.severity == "refuse");
        let refusing: BTreeSet<_> = refusing.map(|rule| rule.key).collect();
        paper.text(&format!(
            "{n_rules}, each with its source and how far it can be trusted; {} of them refuse.",
            refusing.len()
        ))?;
        Ok(Self { names, refusing })
    }

    /// The name that goes with a key.
    pub(super) fn name(&self, key: &str) -> String {
        self.names.get(key).cloned().unwrap_or_else(|| spoken(key))
    }

    /// Those of these rules that refuse.
    pub(super) fn refusing<'a>(&self, rules: &'a [String]) -> Vec<&'a str> {
        let rules = rules.iter().filter(|rule| self.refusing.contains(*rule));
        rules.map(String::as_str).collect()
    }
}
