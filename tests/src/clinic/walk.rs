//! The walk itself: site, batch, plans, estimate, completions, report.

use std::{collections::BTreeSet, io::Write};

use infra::clock::{IdSource as _, UuidV7Source};
use reqwest::Method;
use serde_json::{Value, json};

use super::{Accounted, Assumptions, Planned, Room, Trouble, Walk, account, tell};
use crate::client::{Answer, Caller};

/// The site that the floors belong to.
const SITE: &str = include_str!("../../clinic/site.json");

/// Somebody on a walk.
pub(super) struct Walker<'a> {
    caller: &'a Caller,
    assumptions: Option<&'a Assumptions>,
    n_replayed: usize,
}

impl<'a> Walker<'a> {
    pub(super) const fn new(caller: &'a Caller, assumptions: Option<&'a Assumptions>) -> Self {
        Self {
            caller,
            assumptions,
            n_replayed: 0,
        }
    }

    pub(super) async fn walk(
        mut self,
        rooms: &[Room],
        out: &mut dyn Write,
    ) -> Result<Walk, Trouble> {
        if let Some(assumptions) = self.assumptions {
            writeln!(out, "Assumed: {}\n", assumptions.whose())?;
        }
        let site_id = self.site().await?;
        let batch = self.register(rooms, &site_id).await?;
        tell::batch(out, rooms, &batch)?;
        let floors = self.plan(rooms, &batch).await?;
        tell::verdicts(out, &floors)?;
        tell::questions(out, &floors)?;
        let work = match self.assumptions {
            Some(assumptions) => Some(self.account(&site_id, &floors, assumptions, out).await?),
            None => None,
        };
        Ok(Walk {
            site_id,
            batch,
            floors,
            work,
            n_replayed: self.n_replayed,
        })
    }

    /// What the run is called in idempotency keys: a floor of which more is known gets another plan.
    const fn run(&self) -> &'static str {
        if self.assumptions.is_some() {
            "assumed"
        } else {
            "bare"
        }
    }

    /// The site, found by its external name or registered.
    async fn site(&mut self) -> Result<String, Trouble> {
        let body: Value = serde_json::from_str(SITE)?;
        let path = "/v1/sites?external_system=handover&external_id=clinic";
        let found = self.get(path).await?;
        let known = found.pointer("/items/0/id").and_then(Value::as_str);
        match known {
            Some(id) => Ok(id.to_owned()),
            None => id(&self.post("/v1/sites", "clinic:site", &body).await?),
        }
    }

    /// Registers every row in one batch.
    async fn register(&mut self, rooms: &[Room], site_id: &str) -> Result<Value, Trouble> {
        let items: Vec<Value> = rooms
            .iter()
            .map(|room| room.item(site_id, self.assumptions))
            .collect();
        let body = json!({"mode": "partial", "items": items});
        // A batch says what is true now: no key of an earlier walk may answer for it.
        let key = format!("clinic:batch:{}", UuidV7Source.uuid());
        self.post("/v1/surfaces/batch", &key, &body).await
    }

    /// A plan for each hard floor.
    async fn plan(&mut self, rooms: &[Room], batch: &Value) -> Result<Vec<Planned>, Trouble> {
        let items = batch
            .get("items")
            .and_then(Value::as_array)
            .ok_or("a batch without items")?;
        let mut floors = Vec::new();
        for (room, item) in rooms.iter().zip(items) {
            let Some(surface_id) = item.get("surface_id").and_then(Value::as_str) else {
                continue;
            };
            let wish = match self.assumptions {
                Some(assumptions) => assumptions.wish(&room.finish),
                None => json!({"goal": "restore"}),
            };
            let body = json!({"surface_id": surface_id, "wish": wish});
            let plan = self
                .post(
                    "/v1/plans",
                    &room.key(&format!("plan-{}", self.run())),
                    &body,
                )
                .await?;
            floors.push(Planned {
                room: room.clone(),
                surface_id: surface_id.to_owned(),
                plan,
            });
        }
        Ok(floors)
    }

    /// The estimate of the building, the work on one storey, and the cost report.
    async fn account(
        &mut self,
        site_id: &str,
        floors: &[Planned],
        assumptions: &Assumptions,
        out: &mut dyn Write,
    ) -> Result<Accounted, Trouble> {
        let body = json!({"site_id": site_id, "wish": {"goal": "restore"}, "wishes": assumptions.wishes()});
        let estimate = self
            .post("/v1/estimates", "clinic:estimate:assumed", &body)
            .await?;
        tell::estimate(out, &estimate)?;
        let work = assumptions.work().ok_or("no `work` is assumed")?;
        let mut completions = Vec::new();
        for (index, floor) in floors
            .iter()
            .filter(|floor| floor.room.storey == work.storey)
            .enumerate()
        {
            let body = account::completion(floor, &work, u64::try_from(index)?)?;
            completions.push(
                self.post("/v1/completions", &floor.room.key("completion"), &body)
                    .await?,
            );
        }
        let months: BTreeSet<String> = completions.iter().filter_map(account::month).collect();
        let path = account::report_path(site_id, &months)?;
        let report = self.ask(Method::GET, &path, None).await?;
        let told = report.json();
        account::check(&told, &completions)?;
        tell::report(out, &work.storey, &completions, &told)?;
        Ok(Accounted {
            estimate,
            completions,
            report: report.body,
        })
    }

    async fn get(&mut self, path: &str) -> Result<Value, Trouble> {
        Ok(self.ask(Method::GET, path, None).await?.json())
    }

    async fn post(&mut self, path: &str, key: &str, body: &Value) -> Result<Value, Trouble> {
        Ok(self
            .ask(Method::POST, path, Some((key, body)))
            .await?
            .json())
    }

    async fn ask(
        &mut self,
        method: Method,
        path: &str,
        write: Option<(&str, &Value)>,
    ) -> Result<Answer, Trouble> {
        let call = self.caller.call(method, path);
        let call = match write {
            Some((key, body)) => call.json(body).header("Idempotency-Key", key),
            None => call,
        };
        let answer = call.send().await?;
        if !(200..300).contains(&answer.status) {
            return Err(format!("{path}: {} {}", answer.status, answer.text()).into());
        }
        if answer.header("Idempotent-Replayed").is_some() {
            self.n_replayed = self.n_replayed.saturating_add(1);
        }
        Ok(answer)
    }
}

fn id(record: &Value) -> Result<String, Trouble> {
    let id = record.get("id").and_then(Value::as_str);
    Ok(id.ok_or("a record without an id")?.to_owned())
}
