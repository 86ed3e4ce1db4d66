// The columns of what is exported, once: the header of a CSV file, its cells and the data
// dictionary are made of these tables.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/csv.h"
#include "daemon/journal/reader.h"

namespace neap::client {

struct ColumnInfo {
  std::string_view name;
  std::string_view type;  // time, integer, number, text, truth
  std::string_view unit;  // "" for none
  std::string_view range;
  std::string_view meaning;
};

template <class Row>
struct Column {
  ColumnInfo info;
  std::string (*cell)(const Row& row);
};

std::span<const Column<journal::ReadingRow>> reading_columns();
std::span<const Column<journal::EventRow>> event_columns();
std::span<const Column<journal::CycleEntry>> flood_columns();
std::span<const Column<journal::AlarmSpan>> alarm_columns();
std::span<const Column<journal::DayEntry>> day_columns();
std::span<const Column<journal::MeasurementRow>> measurement_columns();
std::span<const Column<journal::DiaryRow>> diary_columns();

// With its unit: "fill (s)".
inline std::string heading_of(const ColumnInfo& info) {
  return std::string(info.name) +
         (info.unit.empty() ? std::string() : " (" + std::string(info.unit) + ")");
}

template <class Row>
std::string csv_head(std::span<const Column<Row>> columns) {
  std::vector<std::string> cells;
  for (const Column<Row>& column : columns) cells.push_back(heading_of(column.info));
  return csv_row(cells);
}

template <class Row>
std::string csv_of(std::span<const Column<Row>> columns, const Row& row) {
  std::vector<std::string> cells;
  for (const Column<Row>& column : columns) cells.push_back(column.cell(row));
  return csv_row(cells);
}

}  // namespace neap::client
