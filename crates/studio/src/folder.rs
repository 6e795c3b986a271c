//! A job as plain files: readable, diffable, importable, exportable.
//!
//! `job.toml` (car, owner, order, arrival, findings, notes), `readings.csv` and `readings-after.csv`, `pieces/*.svg`,
//! `shapes/*` (scans of panels), `pictures/*`, `shop.toml` where the folder brings its own shop, and, in an exported folder, `history.jsonl`: the
//! rows of the journal, from which everything else comes back exactly.

use crate::command::measure::read_csv;
use crate::command::{NewJob, book};
use crate::engine;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, broken, car_stream, job_stream};
use jiff::Timestamp;
use job::{
    Arrival, Car, Customer, Finding, FindingNo, Job, JobEvent, JobId, Material, Moment, Note, Offcut, Order,
    PanelId, PanelShape, Piece, Place, Product, Reading, Roll, ShopEvent, ShopSettings, Stage, Taken, Tape,
};
use journal::NewEvent;
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::{Path, PathBuf};

/// `job.toml`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct JobFile {
    /// The job's number; given anew when it is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// When it was booked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub booked: Option<Timestamp>,
    /// When the car is expected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<Timestamp>,
    /// Promised handover.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub promised: Option<Timestamp>,
    /// The car.
    pub car: Car,
    /// Its owner.
    pub customer: Customer,
    /// What is wanted.
    pub order: Order,
    /// The arrival record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub arrival: Option<Arrival>,
    /// Findings.
    #[serde(rename = "finding", skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<Finding>,
    /// Outlines in `pieces/`; a file that is not listed is the piece of the panel whose name it has.
    #[serde(rename = "piece", skip_serializing_if = "Vec::is_empty")]
    pub pieces: Vec<PieceFile>,
    /// Shapes of panels: scans in `shapes/`, or tape measures. A file that is not listed is the scan of the panel
    /// whose name it has.
    #[serde(rename = "shape", skip_serializing_if = "Vec::is_empty")]
    pub shapes: Vec<ShapeFile>,
    /// Pictures in `pictures/`; a file that is not listed belongs to the whole car.
    #[serde(rename = "picture", skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<PictureFile>,
    /// Remarks.
    #[serde(rename = "note", skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Note>,
}

/// A file in `pieces/`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PieceFile {
    /// Name of the file.
    pub file: String,
    /// Name of the piece; the file's name without it.
    pub id: String,
    /// The panel.
    pub panel: PanelId,
    /// How many.
    pub count: u32,
    /// Only good for planning film.
    pub planning_only: bool,
    /// Where the outline came from.
    pub origin: String,
    /// Alignment marks, from and to in millimeters.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks_mm: Vec<[[f64; 2]; 2]>,
}

/// The shape of a panel: a file in `shapes/`, or tape measures.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ShapeFile {
    /// The panel.
    pub panel: PanelId,
    /// Name of the scan's file; empty for tape measures.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub file: String,
    /// Name of the scan as it came; that of the file without it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Unit of the scan: `mm`, `cm`, `m` or `inch`; guessed from its size without it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// Whether the scan is inside out.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub turned: bool,
    /// Tapes along the panel.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub along: Vec<Tape>,
    /// Tapes across it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub across: Vec<Tape>,
}

/// A file in `pictures/`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PictureFile {
    /// Name of the file.
    pub file: String,
    /// Where on the car.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// At which stage.
    pub stage: Stage,
    /// The finding that it shows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finding: Option<FindingNo>,
    /// The picture in the record of which this file is a copy without the camera's notes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copy_of: Option<job::PictureId>,
}

/// Which pictures an exported folder gets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pictures {
    /// Copies without the camera's notes, which say among other things where a picture was taken.
    #[default]
    WithoutNotes,
    /// As they came, byte for byte: to move a record from one studio to another.
    Originals,
}

/// `shop.toml`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ShopFile {
    /// What the owner sets.
    pub settings: ShopSettings,
    /// Rolls.
    #[serde(rename = "roll")]
    pub rolls: Vec<Roll>,
    /// Offcuts.
    #[serde(rename = "offcut")]
    pub offcuts: Vec<Offcut>,
    /// Chemicals.
    #[serde(rename = "product")]
    pub products: Vec<Product>,
}

/// A row of `history.jsonl`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Row {
    stream: String,
    at: Timestamp,
    by: String,
    kind: String,
    body: String,
}

/// What came of reading a folder.
#[derive(Clone, Debug, Default)]
pub struct Imported {
    /// The job's number.
    pub id: JobId,
    /// What was left out, each with its place and what to do.
    pub warnings: Vec<String>,
}

struct Folder {
    file: JobFile,
    readings: Vec<Reading>,
    pieces: Vec<Piece>,
    shapes: Vec<(PanelId, Taken, Option<Vec<u8>>)>,
    pictures: Vec<(PictureFile, Vec<u8>)>,
    history: Vec<Row>,
    warnings: Vec<String>,
}

impl Studio {
    /// Takes a job folder in.
    ///
    /// # Errors
    /// When `job.toml` or an outline cannot be used: says where, what, and what to do. Bad rows of readings are left
    /// out and named instead.
    pub fn import(&self, stamp: &Stamp, folder: &Path) -> Result<Imported, Refusal> {
        let read = Folder::read(folder)?;
        let meshes = read.shapes.iter().filter_map(|(_, _, bytes)| bytes.as_ref());
        for bytes in read.pictures.iter().map(|(_, bytes)| bytes).chain(meshes) {
            self.journal().put_picture(bytes).map_err(broken)?;
        }
        let id = if read.history.is_empty() {
            self.import_new(stamp, &read)?
        } else {
            self.import_rows(stamp, &read)?
        };
        self.import_changes(stamp, &id, &read)?;
        Ok(Imported { id, warnings: read.warnings })
    }

    fn import_new(&self, stamp: &Stamp, read: &Folder) -> Result<JobId, Refusal> {
        let file = &read.file;
        let new = NewJob {
            car: file.car.clone(),
            customer: file.customer.clone(),
            order: file.order.clone(),
            promised: file.promised,
            expected: file.expected,
        };
        self.book(stamp, new).map_err(|e| e.at("job.toml"))
    }

    fn import_rows(&self, stamp: &Stamp, read: &Folder) -> Result<JobId, Refusal> {
        let row = read.history.iter().find(|r| r.stream.starts_with("job/"));
        let id = JobId(row.map_or_else(String::new, |r| r.stream["job/".len()..].to_owned()));
        let number: u32 = id.as_str().parse().map_err(|_| {
            Refusal::invalid(
                "The history names no job",
                "Remove `history.jsonl` to import the folder as a new job.",
            )
            .at("history.jsonl")
        })?;
        let mut streams: Vec<&str> = read.history.iter().map(|r| r.stream.as_str()).collect();
        streams.sort_unstable();
        streams.dedup();
        for name in streams {
            let known_car = name.starts_with("car/") && !self.stream_is_empty(name)?;
            if known_car {
                continue;
            }
            let rows = read.history.iter().filter(|r| r.stream == name);
            let events = rows.map(|r| NewEvent {
                kind: r.kind.clone(),
                body: r.body.clone(),
                at: r.at,
                by: r.by.clone(),
            });
            self.write_rows(name, events.collect())?;
        }
        self.decide_shop(stamp, |_, _| Ok(vec![ShopEvent::JobNumbered { number }]))?;
        Ok(id)
    }

    fn stream_is_empty(&self, name: &str) -> Result<bool, Refusal> {
        Ok(self.journal().streams(name).map_err(broken)?.iter().all(|s| s.stream.as_str() != name))
    }

    /// What the plain files say beyond the state so far becomes events: for a new job everything, for an exported folder
    /// what was edited by hand.
    fn import_changes(&self, stamp: &Stamp, id: &JobId, read: &Folder) -> Result<(), Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| {
            let file = &read.file;
            let mut events = Vec::new();
            if file.car != job.car {
                book::check_car(&file.car).map_err(|e| e.at("job.toml, [car]"))?;
                events.push(JobEvent::CarChanged { car: file.car.clone() });
            }
            if file.customer != job.customer {
                events.push(JobEvent::CustomerChanged { customer: file.customer.clone() });
            }
            if file.order != job.order && job.acceptance.is_none() {
                book::check_order(&file.car, &file.order).map_err(|e| e.at("job.toml, [order]"))?;
                events.push(JobEvent::OrderChanged { order: file.order.clone() });
            }
            if file.promised != job.promised {
                events.push(JobEvent::Promised { promised: file.promised });
            }
            if let Some(arrival) = &file.arrival
                && job.arrival.as_ref() != Some(arrival)
            {
                events.push(JobEvent::Arrived { arrival: arrival.clone() });
            }
            let mut next = job.next_finding().0;
            for (i, finding) in file.findings.iter().enumerate() {
                let place = format!("job.toml, finding {}", i + 1);
                crate::command::finding::check_place(job, &finding.place).map_err(|e| e.at(place))?;
                match job.finding(finding.no) {
                    Some(old) if old == finding => {}
                    Some(_) => events.push(JobEvent::FindingChanged { finding: finding.clone() }),
                    None => {
                        let mut finding = finding.clone();
                        if finding.no.0 < next {
                            finding.no = FindingNo(next);
                        }
                        next = finding.no.0 + 1;
                        if finding.at == Timestamp::UNIX_EPOCH {
                            finding.at = now;
                        }
                        if finding.by.is_empty() {
                            finding.by.clone_from(&stamp.by);
                        }
                        events.push(JobEvent::Found { finding });
                    }
                }
            }
            let mut known = job.readings.clone();
            let fresh: Vec<Reading> = read
                .readings
                .iter()
                .filter(|r| match known.iter().position(|k| k == *r) {
                    Some(i) => {
                        known.swap_remove(i);
                        false
                    }
                    None => true,
                })
                .cloned()
                .collect();
            if !fresh.is_empty() {
                events.push(JobEvent::Measured { readings: fresh });
            }
            let pieces: Vec<Piece> =
                read.pieces.iter().filter(|p| !job.pieces.contains(p)).cloned().collect();
            if !pieces.is_empty() {
                events.push(JobEvent::PiecesSet { pieces });
            }
            for (panel, taken, _) in &read.shapes {
                if !job.shapes.iter().any(|s| s.panel == *panel && s.taken == *taken) {
                    let (panel, taken, by) = (panel.clone(), taken.clone(), stamp.by.clone());
                    events.push(JobEvent::ShapeTaken { shape: PanelShape { panel, taken, at: now, by } });
                }
            }
            for (picture, bytes) in &read.pictures {
                let picture_id = job::PictureId(journal::PictureId::of(bytes).to_string());
                let known = |id: &job::PictureId| job.pictures.iter().any(|p| p.picture == *id);
                // A copy stands in where the original did not come along.
                let here =
                    picture.copy_of.as_ref().is_some_and(|id| known(id) && self.picture_bytes(id).is_ok());
                if !here && !known(&picture_id) {
                    events.push(JobEvent::Pictured {
                        picture: picture_id,
                        name: picture.file.clone(),
                        place: picture.place.clone(),
                        stage: picture.stage,
                        finding: picture.finding,
                        step: None,
                    });
                }
            }
            for note in file.notes.iter().filter(|n| !job.notes.contains(n)) {
                events.push(JobEvent::Noted { note: note.clone() });
            }
            Ok(Changes::from(events))
        })?;
        Ok(())
    }

    /// Writes a job out as a folder.
    ///
    /// # Errors
    /// When the folder is not empty or cannot be written.
    pub fn export(&self, id: &JobId, folder: &Path, pictures: Pictures) -> Result<(), Refusal> {
        let entry = self.job(id)?;
        let job = &*entry.job;
        if folder.exists() && fs::read_dir(folder).map_err(|e| io(folder, &e))?.next().is_some() {
            return Err(Refusal::invalid(
                "The folder is not empty",
                "Name a new or empty folder: nothing is overwritten.",
            )
            .at(folder.display().to_string()));
        }
        for sub in ["", "pieces", "shapes", "pictures"] {
            let path = folder.join(sub);
            fs::create_dir_all(&path).map_err(|e| io(&path, &e))?;
        }
        let mut file = job_file(id, job);
        for piece in &job.pieces {
            let name = format!("{}.svg", safe(&piece.id));
            write(&folder.join("pieces").join(&name), outline_svg(piece).as_bytes())?;
            file.pieces.push(PieceFile {
                file: name,
                id: piece.id.clone(),
                panel: piece.panel.clone(),
                count: piece.count,
                planning_only: piece.planning_only,
                origin: piece.origin.clone(),
                marks_mm: piece.marks_mm.clone(),
            });
        }
        for shape in &job.shapes {
            let listed = self.export_shape(shape, folder)?;
            file.shapes.push(listed);
        }
        for (i, entry) in job.pictures.iter().enumerate() {
            let mut name = format!("{:03}-{}", i + 1, safe(&entry.name));
            let mut bytes = self.picture_bytes(&entry.picture)?;
            let mut copy_of = None;
            if pictures == Pictures::WithoutNotes
                && let Some(copy) = crate::picture::without_notes(&bytes).map_err(|e| e.at(&entry.name))?
            {
                bytes = copy;
                copy_of = Some(entry.picture.clone());
                name = format!("{}.jpg", name.rsplit_once('.').map_or(name.as_str(), |(stem, _)| stem));
            }
            write(&folder.join("pictures").join(&name), &bytes)?;
            let (place, stage, finding) = (entry.place.clone(), entry.stage, entry.finding);
            file.pictures.push(PictureFile { file: name, place, stage, finding, copy_of });
        }
        let text = toml::to_string_pretty(&file).map_err(broken)?;
        write(&folder.join("job.toml"), text.as_bytes())?;
        write(&folder.join("readings.csv"), readings_csv(job, Moment::Before).as_bytes())?;
        if job.readings_at(Moment::After).next().is_some() {
            write(&folder.join("readings-after.csv"), readings_csv(job, Moment::After).as_bytes())?;
        }
        write(&folder.join("shop.toml"), self.shop_file()?.as_bytes())?;
        write(&folder.join("history.jsonl"), self.history_lines(id, job)?.as_bytes())
    }

    fn export_shape(&self, shape: &PanelShape, folder: &Path) -> Result<ShapeFile, Refusal> {
        let panel = shape.panel.clone();
        Ok(match &shape.taken {
            Taken::Tapes { along, across } => {
                ShapeFile { panel, along: along.clone(), across: across.clone(), ..ShapeFile::default() }
            }
            Taken::Scan { mesh, name, unit, turned } => {
                let file = format!("{}-{}", safe(panel.as_str()), safe(name));
                write(&folder.join("shapes").join(&file), &self.picture_bytes(mesh)?)?;
                let (name, unit, turned) = (name.clone(), unit.clone(), *turned);
                ShapeFile { panel, file, name, unit, turned, ..ShapeFile::default() }
            }
        })
    }

    /// The bytes of a picture.
    ///
    /// # Errors
    /// When it is not in the journal or was changed on the disk.
    pub fn picture_bytes(&self, id: &job::PictureId) -> Result<Vec<u8>, Refusal> {
        let stored =
            id.as_str().parse().map_err(|e: journal::Refusal| Refusal::not_found(e.to_string(), ""))?;
        self.journal().picture(&stored).map_err(|e| Refusal::not_found(e.to_string(), ""))
    }

    fn shop_file(&self) -> Result<String, Refusal> {
        let shop = self.shop()?;
        let file = ShopFile {
            settings: shop.settings.clone(),
            rolls: shop.rolls.clone(),
            offcuts: shop.offcuts.clone(),
            products: shop.products.clone(),
        };
        toml::to_string_pretty(&file).map_err(broken)
    }

    fn history_lines(&self, id: &JobId, job: &Job) -> Result<String, Refusal> {
        let mut lines = String::new();
        for name in [job_stream(id), car_stream(&job.car.plate)] {
            let stream = journal::Stream::new(name).map_err(broken)?;
            for row in self.journal().load(&stream, 0).map_err(broken)? {
                let row = Row {
                    stream: row.stream.as_str().to_owned(),
                    at: row.at,
                    by: row.by,
                    kind: row.kind,
                    body: row.body,
                };
                lines.push_str(&serde_json::to_string(&row).map_err(broken)?);
                lines.push('\n');
            }
        }
        Ok(lines)
    }

    /// Sets the shop up from a `shop.toml`.
    ///
    /// # Errors
    /// When it cannot be read or a setting cannot be used.
    pub fn set_up(&self, stamp: &Stamp, text: &str) -> Result<(), Refusal> {
        let file: ShopFile = toml::from_str(text).map_err(|e| toml_refusal("shop.toml", &e))?;
        self.set_shop(stamp, &file.settings).map_err(|e| e.at("shop.toml, [settings]"))?;
        for roll in &file.rolls {
            self.receive_roll(stamp, roll).map_err(|e| e.at("shop.toml, [[roll]]"))?;
        }
        for offcut in &file.offcuts {
            self.keep_offcut(stamp, offcut).map_err(|e| e.at("shop.toml, [[offcut]]"))?;
        }
        self.decide_shop(stamp, |_, _| {
            Ok(file.products.iter().map(|p| ShopEvent::ProductSet { product: p.clone() }).collect())
        })
    }
}

/// The text of `shop.toml` for a shop.
///
/// # Errors
/// When it cannot be written as TOML.
pub fn shop_toml(file: &ShopFile) -> Result<String, Refusal> {
    toml::to_string_pretty(file).map_err(broken)
}

impl Folder {
    fn read(folder: &Path) -> Result<Self, Refusal> {
        let text = read_text(&folder.join("job.toml"))?.ok_or_else(|| {
            Refusal::not_found(
                "There is no job.toml in this folder",
                "A job folder begins with job.toml: see the README.",
            )
            .at(folder.display().to_string())
        })?;
        let file: JobFile = toml::from_str(&text).map_err(|e| toml_refusal("job.toml", &e))?;
        if file.car == Car::default() {
            return Err(Refusal::invalid(
                "The job is empty: it has no [car]",
                "Enter at least plate and body.",
            )
            .at("job.toml"));
        }
        book::check_car(&file.car).map_err(|e| e.at("job.toml, [car]"))?;
        let mut warnings = Vec::new();
        let job = Job { car: file.car.clone(), ..Job::default() };
        let mut readings = Vec::new();
        for (name, moment) in [("readings.csv", Moment::Before), ("readings-after.csv", Moment::After)] {
            if let Some(csv) = read_text(&folder.join(name))? {
                let (kept, rejected) = read_csv(&job, &csv, moment);
                readings.extend(kept);
                warnings.extend(rejected.iter().map(|r| match r.line {
                    0 => format!("{name}: {}", r.reason),
                    line => format!("{name}, line {line}: {}", r.reason),
                }));
            }
        }
        let pieces = read_pieces(folder, &file)?;
        let shapes = read_shapes(folder, &file)?;
        let pictures = read_pictures(folder, &file, &mut warnings)?;
        let history = match read_text(&folder.join("history.jsonl"))? {
            Some(text) => text
                .lines()
                .enumerate()
                .map(|(i, line)| {
                    serde_json::from_str(line).map_err(|e| {
                        Refusal::invalid(
                            e.to_string(),
                            "Restore the line, or remove the file to import a new job.",
                        )
                        .at(format!("history.jsonl, line {}", i + 1))
                    })
                })
                .collect::<Result<_, _>>()?,
            None => Vec::new(),
        };
        Ok(Self { file, readings, pieces, shapes, pictures, history, warnings })
    }
}

fn job_file(id: &JobId, job: &Job) -> JobFile {
    JobFile {
        number: Some(id.0.clone()),
        booked: Some(job.booked),
        expected: job.expected,
        promised: job.promised,
        car: job.car.clone(),
        customer: job.customer.clone(),
        order: job.order.clone(),
        arrival: job.arrival.clone(),
        findings: job.findings.clone(),
        pieces: Vec::new(),
        shapes: Vec::new(),
        pictures: Vec::new(),
        notes: job.notes.clone(),
    }
}

fn read_pieces(folder: &Path, file: &JobFile) -> Result<Vec<Piece>, Refusal> {
    let mut pieces = Vec::new();
    for path in files(&folder.join("pieces"))? {
        let name = file_name(&path);
        let lower = name.to_lowercase();
        if !lower.ends_with(".svg") && !lower.ends_with(".dxf") {
            continue;
        }
        let text = read_text(&path)?.unwrap_or_default();
        let listed = file.pieces.iter().find(|p| p.file == name);
        let stem: PanelId = name.get(..name.len() - 4).unwrap_or(&name).into();
        let panel = listed.map_or(&stem, |p| &p.panel);
        let style = body::Style::from_name(&file.car.body).unwrap_or(body::Style::Saloon);
        let place = format!("pieces/{name}");
        book::known_panel(style, panel).map_err(|e| e.at(place.clone()))?;
        for mut piece in engine::film::read_outlines(&text, &place, panel)? {
            if let Some(listed) = listed {
                piece.id.clone_from(&listed.id);
                piece.count = listed.count.max(1);
                piece.planning_only = listed.planning_only;
                piece.origin.clone_from(&listed.origin);
                piece.marks_mm.clone_from(&listed.marks_mm);
            }
            pieces.push(piece);
        }
    }
    Ok(pieces)
}

/// Shapes that `job.toml` lists, and scans in `shapes/` that bear the name of a panel.
/// The shape of a panel as the folder has it, with the bytes of its scan.
type ReadShape = (PanelId, Taken, Option<Vec<u8>>);

fn read_shapes(folder: &Path, file: &JobFile) -> Result<Vec<ReadShape>, Refusal> {
    let style = body::Style::from_name(&file.car.body).unwrap_or(body::Style::Saloon);
    let mut listed = file.shapes.clone();
    for path in files(&folder.join("shapes"))? {
        let name = file_name(&path);
        if !listed.iter().any(|s| s.file == name) {
            let stem = name.rsplit_once('.').map_or(name.as_str(), |(stem, _)| stem);
            listed.push(ShapeFile { panel: stem.into(), file: name, ..ShapeFile::default() });
        }
    }
    listed
        .into_iter()
        .enumerate()
        .map(|(i, shape)| {
            let place = match shape.file.as_str() {
                "" => format!("job.toml, shape {}", i + 1),
                name => format!("shapes/{name}"),
            };
            book::known_panel(style, &shape.panel).map_err(|e| e.at(place.clone()))?;
            if shape.file.is_empty() {
                engine::flatten::check_tapes(&shape.along, &shape.across).map_err(|e| e.at(place))?;
                let taken = Taken::Tapes { along: shape.along, across: shape.across };
                return Ok((shape.panel, taken, None));
            }
            let path = folder.join("shapes").join(safe(&shape.file));
            let bytes = fs::read(&path).map_err(|e| io(&path, &e))?;
            let name = if shape.name.is_empty() { shape.file } else { shape.name };
            let scan = engine::flatten::check_scan(&bytes, &name)?;
            let known = flatten::read::Unit::from_name(&shape.unit);
            let unit = known.unwrap_or_else(|| scan.guess_unit().unit).name().to_owned();
            let mesh = job::PictureId(journal::PictureId::of(&bytes).to_string());
            Ok((shape.panel, Taken::Scan { mesh, name, unit, turned: shape.turned }, Some(bytes)))
        })
        .collect()
}

fn read_pictures(
    folder: &Path,
    file: &JobFile,
    warnings: &mut Vec<String>,
) -> Result<Vec<(PictureFile, Vec<u8>)>, Refusal> {
    let mut pictures = Vec::new();
    for path in files(&folder.join("pictures"))? {
        let name = file_name(&path);
        let bytes = fs::read(&path).map_err(|e| io(&path, &e))?;
        if let Err(refusal) = crate::picture::check(&format!("pictures/{name}"), &bytes) {
            warnings.push(refusal.to_string());
            continue;
        }
        let listed = file.pictures.iter().find(|p| p.file == name).cloned();
        pictures.push((listed.unwrap_or(PictureFile { file: name, ..PictureFile::default() }), bytes));
    }
    Ok(pictures)
}

/// Files in a folder by name; none when the folder is not there.
fn files(folder: &Path) -> Result<Vec<PathBuf>, Refusal> {
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .map_err(|e| io(folder, &e))?
        .filter_map(|entry| entry.ok().map(|e| e.path()))
        .filter(|p| p.is_file())
        .collect();
    paths.sort();
    Ok(paths)
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

fn read_text(path: &Path) -> Result<Option<String>, Refusal> {
    match fs::read(path) {
        Ok(bytes) => match String::from_utf8(bytes) {
            Ok(text) => Ok(Some(text.trim_start_matches('\u{feff}').to_owned())),
            Err(_) => Err(Refusal::invalid("The file is not UTF-8 text", "Save it as UTF-8.")
                .at(path.display().to_string())),
        },
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(io(path, &e)),
    }
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), Refusal> {
    fs::write(path, bytes).map_err(|e| io(path, &e))
}

pub(crate) fn io(path: &Path, error: &std::io::Error) -> Refusal {
    Refusal::broken(error, "Check the path and who may read or write there.").at(path.display().to_string())
}

fn toml_refusal(file: &str, error: &toml::de::Error) -> Refusal {
    Refusal::invalid(error.to_string().trim().to_owned(), "Mend this line.").at(file)
}

/// A name that is a file name on every system.
fn safe(name: &str) -> String {
    let clean: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '_' })
        .collect();
    let clean = clean.trim_matches('.').to_owned();
    if clean.is_empty() { "file".into() } else { clean.chars().take(80).collect() }
}

/// An outline as SVG in millimeters, its digits those that are stored.
fn outline_svg(piece: &Piece) -> String {
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for p in &piece.outline_mm {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    let ring = |corners: &[[f64; 2]]| {
        let points: Vec<String> = corners.iter().map(|[x, y]| format!("{x} {y}")).collect();
        format!("M{}Z", points.join("L"))
    };
    let rings: String = std::iter::once(&piece.outline_mm).chain(&piece.inner_mm).map(|r| ring(r)).collect();
    let (w, h) = (high[0] - low[0], high[1] - low[1]);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{} {} {w} {h}\">\n<path id=\"{}\" d=\"{}\" fill=\"none\" stroke=\"black\"/>\n</svg>\n",
        low[0],
        low[1],
        safe(&piece.id),
        rings
    )
}

/// Readings as CSV.
pub fn readings_csv(job: &Job, moment: Moment) -> String {
    let mut text = String::from("panel,u,v,reading_um,spot,repeat,gauge,substrate,clear_um\n");
    let number = |x: Option<f64>| x.map(|x| x.to_string()).unwrap_or_default();
    let word = |s: &Option<String>| {
        let s = s.as_deref().unwrap_or_default();
        if s.contains([',', '"', '\n']) { format!("\"{}\"", s.replace('"', "\"\"")) } else { s.to_owned() }
    };
    for r in job.readings_at(moment) {
        let substrate = match r.substrate {
            Some(Material::Steel) => "steel",
            Some(Material::Aluminum) => "aluminum",
            Some(Material::Plastic) => "plastic",
            Some(Material::Composite) => "composite",
            Some(Material::Glass) | None => "",
        };
        text.push_str(&format!(
            "{},{},{},{},{},{},{},{substrate},{}\n",
            r.place.panel,
            number(r.place.u),
            number(r.place.v),
            r.total.as_um(),
            word(&r.spot),
            r.repeat.map(|n| n.to_string()).unwrap_or_default(),
            word(&r.gauge),
            number(r.clear.map(|c| c.as_um())),
        ));
    }
    text
}
