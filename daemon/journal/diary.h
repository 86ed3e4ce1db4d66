// What a person may tell the diary: the kinds of entries, and what their fields are.
#pragma once

#include <array>
#include <string_view>

namespace neap::journal {

struct DiaryKindInfo {
  std::string_view name;
  double lowest, highest;  // of the figure
};

// subject, figure, mark and says of each.
inline constexpr std::array kDiaryKinds{
    DiaryKindInfo{"grow_started", 1, 10'000},   // name, plants, -, crop
    DiaryKindInfo{"grow_note", 0, 0},           // name, -, -, words
    DiaryKindInfo{"harvest", 0.1, 10'000'000},  // name, grams, quality, words
    DiaryKindInfo{"grow_ended", 0, 0},          // name, -, -, words
    DiaryKindInfo{"care", 0, 0},                // part, -, -, words
    DiaryKindInfo{"remark", 0, 0},              // what was done, -, -, words; no grow has it
    DiaryKindInfo{"look", 0, 0},                // what was looked at, -, well or trouble, words
    DiaryKindInfo{"turnover", 0, 100'000},      // step, what it measured, done or skipped, words
    DiaryKindInfo{"withdrawal", 0, 0},          // id of an entry, -, -, why
};

constexpr const DiaryKindInfo* find_diary_kind(std::string_view name) {
  for (const DiaryKindInfo& row : kDiaryKinds)
    if (row.name == name) return &row;
  return nullptr;
}

constexpr std::size_t kLongestDiarySubject = 96;  // bytes; an id, too
constexpr std::size_t kLongestDiaryText = 1000;

}  // namespace neap::journal
