//! The statements, once for each database: the driver's types differ, the text does not.

/// Writes the handlers for one database of the driver.
macro_rules! statements {
    ($name:ident, $database:ty, $begin:literal) => {
        /// The handlers for one database.
        pub(crate) mod $name {
            use std::error::Error;

            use actix_web::{App, HttpResponse, HttpServer, error::ErrorInternalServerError, web};
            use chrono::{DateTime, Utc};
            use serde::Deserialize;
            use serde_json::Value;
            use sqlx::{Pool, QueryBuilder, Transaction};
            use uuid::Uuid;

            use super::{Line, Sample, new_id, now};

            type Answer = Result<HttpResponse, actix_web::Error>;

            struct Shared {
                reader: Pool<$database>,
                writer: Pool<$database>,
                sample: Sample,
            }

            /// Serves until it is ended.
            ///
            /// # Errors
            /// A sample that lacks something, an address in use.
            pub(crate) async fn serve(
                address: &str,
                (reader, writer): (Pool<$database>, Pool<$database>),
                sample: Value,
            ) -> Result<(), Box<dyn Error>> {
                let sample = serde_json::from_value(sample)?;
                let shared = web::Data::new(Shared { reader, writer, sample });
                let app = move || {
                    App::new()
                        .app_data(shared.clone())
                        .route("/v1/surfaces/{id}", web::get().to(surface))
                        .route("/v1/surfaces", web::get().to(surfaces))
                        .route("/v1/plans", web::post().to(plan))
                        .route("/v1/completions", web::post().to(completion))
                };
                let server = HttpServer::new(app).keep_alive(crate::IDLE).client_request_timeout(crate::IDLE);
                Ok(server.workers(1).bind(address)?.run().await?)
            }

            fn json(body: String) -> HttpResponse {
                HttpResponse::Ok().content_type("application/json").body(body)
            }

            /// The id behind the prefix of its kind.
            fn id(text: &str) -> Result<Uuid, actix_web::Error> {
                let text = text.split_once('_').map_or(text, |(_, id)| id);
                text.parse().map_err(ErrorInternalServerError)
            }

            async fn surface(shared: web::Data<Shared>, path: web::Path<String>) -> Answer {
                let sql = "SELECT version, document FROM surfaces WHERE tenant_id = $1 AND id = $2";
                let (_version, document): (i64, String) = sqlx::query_as(sql)
                    .bind(shared.sample.tenant_id)
                    .bind(id(&path)?)
                    .fetch_one(&shared.reader)
                    .await
                    .map_err(ErrorInternalServerError)?;
                Ok(json(document))
            }

            #[derive(Deserialize)]
            struct Asked {
                site_id: String,
                limit: i64,
            }

            async fn surfaces(shared: web::Data<Shared>, asked: web::Query<Asked>) -> Answer {
                let sql = "SELECT id, document FROM surfaces WHERE tenant_id = $1 AND site_id = $2 ORDER BY id LIMIT $3";
                let rows: Vec<(Uuid, String)> = sqlx::query_as(sql)
                    .bind(shared.sample.tenant_id)
                    .bind(id(&asked.site_id)?)
                    .bind(asked.limit)
                    .fetch_all(&shared.reader)
                    .await
                    .map_err(ErrorInternalServerError)?;
                let documents: Vec<String> = rows.into_iter().map(|(_, document)| document).collect();
                Ok(json(format!("{{\"items\":[{}]}}", documents.join(","))))
            }

            #[derive(Deserialize)]
            struct Wished {
                surface_id: String,
            }

            async fn plan(shared: web::Data<Shared>, body: web::Json<Wished>) -> Answer {
                let surface = id(&body.surface_id)?;
                insert_plan(&shared, surface).await.map_err(ErrorInternalServerError)?;
                Ok(json(shared.sample.plan.clone()))
            }

            async fn insert_plan(shared: &Shared, surface: Uuid) -> Result<(), sqlx::Error> {
                let sample = &shared.sample;
                let (plan, now) = (new_id(), now());
                let mut tx = shared.writer.begin_with($begin).await?;
                let sql = "INSERT INTO plans (tenant_id, id, site_id, surface_id, surface_version, version, status, goal, \
                    verdict, process, knowledge_version, rate_card_id, area_mm2, net_amount, currency, \
                    request_document, document, created_at, changed_at, planned_on) \
                    VALUES ($1, $2, $3, $4, 1, 1, 'proposed', 'restore', 'allowed', $5, '1', $6, 1000000, 1, 'GBP', $7, $8, $9, $9, '2026-05-12')";
                sqlx::query(sql)
                    .bind(sample.tenant_id)
                    .bind(plan)
                    .bind(sample.site_id)
                    .bind(surface)
                    .bind("machine_strip_and_refinish")
                    .bind(sample.rate_card_id)
                    .bind(&sample.request)
                    .bind(&sample.plan)
                    .bind(now)
                    .execute(&mut *tx)
                    .await?;
                let lines = "INSERT INTO plan_lines (tenant_id, plan_id, line_no, kind, stage, product_class, seconds, ml, amount) ";
                let mut lines = QueryBuilder::<$database>::new(lines);
                lines.push_values((1_i64..).zip(&sample.plan_lines), |mut row, (number, line): (i64, &Line)| {
                    row.push_bind(sample.tenant_id)
                        .push_bind(plan)
                        .push_bind(number)
                        .push_bind(&line.kind)
                        .push_bind(&line.stage)
                        .push_bind(&line.product_class)
                        .push_bind(1_i64)
                        .push_bind(1_i64)
                        .push_bind(1_i64);
                });
                lines.build().execute(&mut *tx).await?;
                event(&mut tx, sample, (surface, &sample.plan_event), now).await?;
                tx.commit().await
            }

            async fn event(
                tx: &mut Transaction<'_, $database>,
                sample: &Sample,
                (surface, payload): (Uuid, &str),
                now: DateTime<Utc>,
            ) -> Result<(), sqlx::Error> {
                let sql = "INSERT INTO outbox (tenant_id, id, type, subject, version, payload, created_at) \
                    VALUES ($1, $2, 'load', 'load', 1, $3, $4)";
                let insert = sqlx::query(sql).bind(sample.tenant_id).bind(new_id());
                insert.bind(payload).bind(now).execute(&mut **tx).await?;
                let sql = "INSERT INTO surface_history (tenant_id, id, surface_id, at, kind, subject, version, statement, created_at) \
                    VALUES ($1, $2, $3, $4, 'load', 'load', 1, 'Strip by machine and refinish on 240 m2.', $4)";
                let insert = sqlx::query(sql).bind(sample.tenant_id).bind(new_id());
                insert.bind(surface).bind(now).execute(&mut **tx).await?;
                Ok(())
            }

            async fn completion(shared: web::Data<Shared>, body: web::Json<Wished>) -> Answer {
                let surface = id(&body.surface_id)?;
                insert_completion(&shared, surface).await.map_err(ErrorInternalServerError)?;
                Ok(json(shared.sample.completion.clone()))
            }

            async fn insert_completion(shared: &Shared, surface: Uuid) -> Result<(), sqlx::Error> {
                let sample = &shared.sample;
                let (completion, now) = (new_id(), now());
                let mut tx = shared.writer.begin_with($begin).await?;
                let key = completion.to_string();
                let sql = "INSERT INTO idempotency_keys (tenant_id, client_id, key, fingerprint, created_at) \
                    VALUES ($1, 'load', $2, 'load', $3)";
                let insert = sqlx::query(sql).bind(sample.tenant_id).bind(&key).bind(now);
                insert.execute(&mut *tx).await?;
                let sql = "INSERT INTO completions (tenant_id, id, site_id, surface_id, status, process, rate_card_id, \
                    rate_card_number, started_at, finished_at, month, area_mm2, planned_share_ppm, currency, document, created_at, \
                    changed_at, deviation_state, deviations) \
                    VALUES ($1, $2, $3, $4, 'recorded', $5, $6, 1, $7, $7, '2026-05', 1000000, 0, 'GBP', $8, $7, $7, 'none', '')";
                sqlx::query(sql)
                    .bind(sample.tenant_id)
                    .bind(completion)
                    .bind(sample.site_id)
                    .bind(surface)
                    .bind("machine_strip_and_refinish")
                    .bind(sample.rate_card_id)
                    .bind(now)
                    .bind(&sample.completion)
                    .execute(&mut *tx)
                    .await?;
                insert_lines(&mut tx, sample, completion, surface).await?;
                event(&mut tx, sample, (surface, &sample.completion_event), now).await?;
                let sql = "UPDATE idempotency_keys SET status = 201, headers = '{}', body = $1 \
                    WHERE tenant_id = $2 AND client_id = 'load' AND key = $3";
                let update = sqlx::query(sql).bind(sample.completion.as_bytes());
                update.bind(sample.tenant_id).bind(&key).execute(&mut *tx).await?;
                tx.commit().await
            }

            async fn insert_lines(
                tx: &mut Transaction<'_, $database>,
                sample: &Sample,
                completion: Uuid,
                surface: Uuid,
            ) -> Result<(), sqlx::Error> {
                let lines = "INSERT INTO completion_lines (tenant_id, completion_id, line_no, site_id, surface_id, storey, \
                    material, process, stage, product_class, kind, month, rate_card_number, currency, planned_seconds, \
                    actual_seconds, planned_ml, actual_ml, planned_amount, computed_amount, actual_amount) ";
                let mut lines = QueryBuilder::<$database>::new(lines);
                lines.push_values((1_i64..).zip(&sample.completion_lines), |mut row, (number, line): (i64, &Line)| {
                    row.push_bind(sample.tenant_id)
                        .push_bind(completion)
                        .push_bind(number)
                        .push_bind(sample.site_id)
                        .push_bind(surface)
                        .push_bind("2")
                        .push_bind("vinyl_composition_tile")
                        .push_bind("machine_strip_and_refinish")
                        .push_bind(&line.stage)
                        .push_bind(&line.product_class)
                        .push_bind(&line.kind)
                        .push_bind("2026-05")
                        .push_bind(1_i64)
                        .push_bind("GBP");
                    for _ in 0..7 {
                        row.push_bind(1_i64);
                    }
                });
                lines.build().execute(&mut **tx).await?;
                Ok(())
            }
        }
    };
}

statements!(postgres, sqlx::Postgres, "BEGIN");
statements!(sqlite, sqlx::Sqlite, "BEGIN IMMEDIATE");

use chrono::{DateTime, Utc};
use serde::Deserialize;
use uuid::Uuid;

#[expect(
    clippy::disallowed_methods,
    reason = "nothing of the service is used here, its clock neither"
)]
fn now() -> DateTime<Utc> {
    Utc::now()
}

#[expect(
    clippy::disallowed_methods,
    reason = "nothing of the service is used here, its source of ids neither"
)]
fn new_id() -> Uuid {
    Uuid::now_v7()
}

/// A line of a plan or of a completion.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Line {
    kind: String,
    stage: Option<String>,
    product_class: Option<String>,
}

/// What the service wrote for one plan and one completion.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct Sample {
    tenant_id: Uuid,
    site_id: Uuid,
    rate_card_id: Uuid,
    request: String,
    plan: String,
    plan_event: String,
    plan_lines: Vec<Line>,
    completion: String,
    completion_event: String,
    completion_lines: Vec<Line>,
}
