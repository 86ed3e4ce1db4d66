// A first settings file from ten answers: text in, text out; of the system it asks the zone
// database alone. The file observes and drives nothing, says beside each figure what to measure,
// and begins with the protections that the parts at hand give and those that they do not.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

namespace neap::client {

// A part that may be fitted, by the word a person types for it.
struct DraftPart {
  std::string_view word;
  std::string_view what;  // for the question
  bool is_output;
  std::string_view yaml;  // under outputs or sensors
};
extern const std::array<DraftPart, 22> kDraftParts;
const DraftPart* find_draft_part(std::string_view word);
bool tempers_water(const std::vector<std::string>& outputs);  // a heater or chiller is among them

// Answers as typed, each checked by draft_complaint.
struct DraftAnswers {
  std::string name = "tent";
  std::string time_zone = "Etc/UTC";
  std::string size = "100 x 100 x 190 cm";
  std::string light = "07:00 14 h";
  std::string tray = "25 L, 45 L";
  std::string reservoir = "60 L, 8 L";
  std::string pump_flow = "600 L/h";
  std::string drain_path = "through_pump";
  std::vector<std::string> outputs{"pump", "fan", "light", "air-pump"};
  std::vector<std::string> sensors{"canopy", "tray-float", "reservoir-float", "leak"};
};

struct DraftQuestion {
  std::string_view text;
  std::string DraftAnswers::*answer;                        // of one line, or
  std::vector<std::string> DraftAnswers::*words = nullptr;  // of parts
};
extern const std::array<DraftQuestion, 10> kDraftQuestions;

// What is wrong with `typed` as the answer to question `number` (from 0), the answers before it
// given; empty when it will do.
std::string draft_complaint(std::size_t number, const std::string& typed,
                            const DraftAnswers& before);
void take_draft_answer(std::size_t number, const std::string& typed, DraftAnswers& answers);

// What the parts protect from, in the words of README's table.
struct Protection {
  std::string_view trouble;
  std::string_view with;     // what neap does
  std::string_view without;  // what it cannot, and which part it takes
};
struct Protections {
  std::vector<const Protection*> have;
  std::vector<const Protection*> lack;
};
Protections protections_of(const DraftAnswers& answers);

// A settings file that `neap check` accepts.
std::string draft_yaml(const DraftAnswers& answers);

}  // namespace neap::client
