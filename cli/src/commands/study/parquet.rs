//! `results.parquet`: the rows of `results.csv` as typed columns, for programs that read many of them.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Write};
use std::mem::take;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use ::parquet::basic::{LogicalType, Repetition, Type as Physical};
use ::parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use ::parquet::errors::ParquetError;
use ::parquet::file::metadata::KeyValue;
use ::parquet::file::properties::WriterProperties;
use ::parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use ::parquet::schema::types::{Type, TypePtr};
use ringwright_solver::report::ReportError;
use ringwright_solver::report::files::OneFile;

use super::beside;
use super::table::{self, ColumnType};
use crate::failure::{Failure, FailureKind};
use crate::interrupt;

/// Rows that are held at a time and stand together in the file, and bytes of text that they may have at most.
const ROWS: usize = 1 << 15;
const MOST_TEXT: usize = 1 << 24;

/// Writes the rows of a table that is whole beside it; where they are. `document` is the text of its `study.json`.
///
/// # Errors
/// A cell that is not of its column's type, with its line; what cannot be read or written.
pub(super) fn write(
    table: &Path,
    columns: &[(String, ColumnType)],
    document: &str,
    inputs: &[PathBuf],
) -> Result<Option<PathBuf>, Failure> {
    let Some(path) = beside::of(table) else {
        return Ok(None);
    };
    beside::check(table)?;
    // whose it is was seen by its end: the head is that of any such file
    let file = OneFile::open(&path, inputs, "PAR1")?;
    let mut failure = None;
    let written = file.write(|out| {
        copied(table, columns, document, out).map_err(|trouble| match trouble {
            Trouble::Write(e) => e,
            Trouble::Read(e) => {
                failure = Some(e);
                io::Error::other("not written")
            }
        })
    });
    written.map_err(|e| failure.unwrap_or_else(|| e.into()))?;
    Ok(Some(path))
}

/// Why there is no file.
enum Trouble {
    /// What was read is at fault.
    Read(Failure),
    /// It cannot be written.
    Write(io::Error),
}

impl From<io::Error> for Trouble {
    fn from(e: io::Error) -> Self {
        Trouble::Write(e)
    }
}

impl From<ParquetError> for Trouble {
    fn from(e: ParquetError) -> Self {
        Trouble::Write(io::Error::other(e))
    }
}

/// What was made of the rows so far and is not yet in the file: the writer wants an output that may go to another thread.
#[derive(Clone, Default)]
struct Pipe(Arc<Mutex<Vec<u8>>>);

impl Pipe {
    /// What has come since it was last asked.
    fn drained(&self) -> Vec<u8> {
        take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Copies the rows, so many at a time.
fn copied(
    table: &Path,
    columns: &[(String, ColumnType)],
    document: &str,
    out: &mut dyn Write,
) -> Result<(), Trouble> {
    let pipe = Pipe::default();
    let key = KeyValue::new(beside::KEY.to_owned(), document.to_owned());
    let by = concat!("ringwright version ", env!("CARGO_PKG_VERSION"));
    let properties = WriterProperties::builder()
        .set_key_value_metadata(Some(vec![key]))
        .set_created_by(by.to_owned())
        .build();
    let mut file = SerializedFileWriter::new(pipe.clone(), schema(columns)?, properties.into())?;
    let read = |e: io::Error| {
        let message = format!("cannot read {}: {e}", table.display());
        Trouble::Read(Failure::io(table, message))
    };
    let mut reader = BufReader::new(File::open(table).map_err(read)?);
    let mut group: Vec<Column> = columns.iter().map(|(_, t)| Column::new(*t)).collect();
    let (mut line, mut number, mut text) = (String::new(), 0, 0);
    loop {
        line.clear();
        let more = reader.read_line(&mut line).map_err(read)? > 0;
        number += usize::from(more);
        if more && number > 1 {
            let wrong = |message| {
                let name = table.display().to_string();
                let kind = FailureKind::Input;
                Trouble::Read(Failure::at(kind, &name, [number, 0], message))
            };
            let cells = table::cells(line.trim_end_matches(['\n', '\r']))
                .ok_or_else(|| wrong("a cell in quotes is not closed".into()))?;
            if cells.len() != columns.len() {
                let message = format!("{} cells, and there are {}", cells.len(), columns.len());
                return Err(wrong(message + " columns"));
            }
            for ((column, (name, _)), cell) in group.iter_mut().zip(columns).zip(cells) {
                let length = cell.len();
                text += column
                    .put(cell)
                    .map_err(|why| wrong(format!("{name} is {why}")))
                    .map(|is_text| if is_text { length } else { 0 })?;
            }
        }
        let rows = group.first().map_or(0, Column::len);
        if rows == ROWS || text > MOST_TEXT || (!more && rows > 0) {
            let mut writer = file.next_row_group()?;
            for column in &mut group {
                if let Some(mut to) = writer.next_column()? {
                    column.empty_into(&mut to)?;
                    to.close()?;
                }
            }
            writer.close()?;
            out.write_all(&pipe.drained())?;
            text = 0;
            if interrupt::came() {
                return Err(Trouble::Read(ReportError::Interrupted.into()));
            }
        }
        if !more {
            break;
        }
    }
    file.close()?;
    out.write_all(&pipe.drained())?;
    Ok(())
}

/// The columns as the file has them: every one but the number of the row may have empty cells.
fn schema(columns: &[(String, ColumnType)]) -> Result<TypePtr, ParquetError> {
    let column = |(name, of): &(String, ColumnType)| {
        let (physical, logical) = match of {
            ColumnType::Row => (Physical::INT64, None),
            ColumnType::Number => (Physical::DOUBLE, None),
            ColumnType::Flag => (Physical::BOOLEAN, None),
            ColumnType::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        };
        let repetition = match of {
            ColumnType::Row => Repetition::REQUIRED,
            _ => Repetition::OPTIONAL,
        };
        Type::primitive_type_builder(name, physical)
            .with_logical_type(logical)
            .with_repetition(repetition)
            .build()
            .map(Arc::new)
    };
    let fields = columns.iter().map(column).collect::<Result<Vec<_>, _>>()?;
    let table = Type::group_type_builder("study").with_fields(fields);
    table.build().map(Arc::new)
}

/// The cells of a column that are not in the file yet.
struct Column {
    cells: Cells,
    /// 1 of a cell that holds something, 0 of an empty one.
    levels: Vec<i16>,
}

enum Cells {
    Rows(Vec<i64>),
    Numbers(Vec<f64>),
    Flags(Vec<bool>),
    Texts(Vec<ByteArray>),
}

impl Column {
    fn new(of: ColumnType) -> Self {
        Self {
            cells: match of {
                ColumnType::Row => Cells::Rows(Vec::new()),
                ColumnType::Number => Cells::Numbers(Vec::new()),
                ColumnType::Flag => Cells::Flags(Vec::new()),
                ColumnType::Text => Cells::Texts(Vec::new()),
            },
            levels: Vec::new(),
        }
    }

    fn len(&self) -> usize {
        self.levels.len()
    }

    /// Adds a cell; whether it is text, or why it is none of this column.
    fn put(&mut self, cell: String) -> Result<bool, String> {
        let is_row = matches!(self.cells, Cells::Rows(_));
        if cell.is_empty() && !is_row {
            self.levels.push(0);
            return Ok(false);
        }
        let no = |what: &str| format!("\"{cell}\", and {what} belongs there");
        match &mut self.cells {
            Cells::Rows(all) => all.push(cell.parse().map_err(|_| no("the number of a row"))?),
            Cells::Numbers(all) => all.push(cell.parse().map_err(|_| no("a number"))?),
            Cells::Flags(all) => all.push(cell.parse().map_err(|_| no("true or false"))?),
            Cells::Texts(all) => all.push(ByteArray::from(cell.into_bytes())),
        }
        self.levels.push(1);
        Ok(matches!(self.cells, Cells::Texts(_)))
    }

    /// Moves all cells into the file.
    fn empty_into(&mut self, to: &mut SerializedColumnWriter) -> Result<(), ParquetError> {
        let levels = take(&mut self.levels);
        match &mut self.cells {
            Cells::Rows(all) => {
                to.typed::<Int64Type>()
                    .write_batch(&take(all), None, None)?;
            }
            Cells::Numbers(all) => {
                let writer = to.typed::<DoubleType>();
                writer.write_batch(&take(all), Some(&levels), None)?;
            }
            Cells::Flags(all) => {
                let writer = to.typed::<BoolType>();
                writer.write_batch(&take(all), Some(&levels), None)?;
            }
            Cells::Texts(all) => {
                let writer = to.typed::<ByteArrayType>();
                writer.write_batch(&take(all), Some(&levels), None)?;
            }
        }
        Ok(())
    }
}
