//! A table as Apache Parquet.

use std::sync::Arc;

use parquet::basic::{LogicalType, Repetition, Type as PhysicalType};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType};
use parquet::errors::Result;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;

use crate::table::{Cell, Column, Kind, Table};

/// Rows of one group: what a reader holds at a time.
const GROUP: usize = 100_000;

pub fn write(table: &Table) -> Result<Vec<u8>> {
    let fields = table.columns.iter().map(field).collect::<Result<Vec<_>>>()?;
    let schema = Arc::new(Type::group_type_builder("table").with_fields(fields).build()?);
    let properties = Arc::new(WriterProperties::builder().set_created_by("kerf".into()).build());
    let mut writer = SerializedFileWriter::new(Vec::new(), schema, properties)?;
    for rows in table.rows.chunks(GROUP) {
        let mut group = writer.next_row_group()?;
        for (place, column) in table.columns.iter().enumerate() {
            let mut out = group.next_column()?.ok_or_else(|| {
                parquet::errors::ParquetError::General("fewer columns than the schema has".into())
            })?;
            let levels: Vec<i16> = rows.iter().map(|row| i16::from(row[place] != Cell::Empty)).collect();
            match column.kind {
                Kind::Text => {
                    let texts: Vec<ByteArray> = rows.iter().filter_map(|row| text(&row[place])).collect();
                    out.typed::<ByteArrayType>().write_batch(&texts, Some(&levels), None)?;
                }
                Kind::Number => {
                    let numbers: Vec<f64> = rows.iter().filter_map(|row| number(&row[place])).collect();
                    out.typed::<DoubleType>().write_batch(&numbers, Some(&levels), None)?;
                }
            }
            out.close()?;
        }
        group.close()?;
    }
    writer.into_inner()
}

fn field(column: &Column) -> Result<Arc<Type>> {
    let builder = match column.kind {
        Kind::Text => Type::primitive_type_builder(column.name, PhysicalType::BYTE_ARRAY)
            .with_logical_type(Some(LogicalType::String)),
        Kind::Number => Type::primitive_type_builder(column.name, PhysicalType::DOUBLE),
    };
    Ok(Arc::new(builder.with_repetition(Repetition::OPTIONAL).build()?))
}

fn text(cell: &Cell) -> Option<ByteArray> {
    match cell {
        Cell::Empty => None,
        Cell::Text(text) => Some(text.as_str().into()),
        Cell::Number(number) => Some(number.to_string().as_str().into()),
    }
}

fn number(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Empty => None,
        Cell::Number(number) => Some(*number),
        // A word in a column of numbers has no number; its level says that something stands there.
        Cell::Text(_) => Some(f64::NAN),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;

    const COLUMNS: &[Column] = &[
        Column { name: "learner", kind: Kind::Text, meaning: "code" },
        Column { name: "width_mm", kind: Kind::Number, meaning: "width, mm" },
    ];

    #[test]
    fn what_is_written_is_read_again() {
        let rows = vec![
            vec![Cell::Text("QS-01".into()), Cell::Number(0.1)],
            vec![Cell::Empty, Cell::Number(-2.5)],
            vec![Cell::Text("ä, \"b\"".into()), Cell::Empty],
        ];
        let bytes = write(&Table { columns: COLUMNS, rows }).unwrap();
        assert_eq!(&bytes[..4], b"PAR1");
        let reader = SerializedFileReader::new(bytes::Bytes::from(bytes)).unwrap();
        let read: Vec<Vec<Field>> = reader
            .get_row_iter(None)
            .unwrap()
            .map(|row| row.unwrap().get_column_iter().map(|(_, field)| field.clone()).collect())
            .collect();
        assert_eq!(
            read,
            [
                [Field::Str("QS-01".into()), Field::Double(0.1)],
                [Field::Null, Field::Double(-2.5)],
                [Field::Str("ä, \"b\"".into()), Field::Null],
            ]
        );
    }

    #[test]
    fn an_empty_table_is_a_file_too() {
        let bytes = write(&Table { columns: COLUMNS, rows: Vec::new() }).unwrap();
        let reader = SerializedFileReader::new(bytes::Bytes::from(bytes)).unwrap();
        assert_eq!(reader.metadata().file_metadata().num_rows(), 0);
    }
}
