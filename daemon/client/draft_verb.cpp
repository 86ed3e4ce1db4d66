// The verb `draft`: ten questions, one file.
#include <filesystem>

#include "daemon/client/draft.h"
#include "daemon/client/failure.h"
#include "daemon/client/questions.h"
#include "daemon/client/verbs.h"
#include "daemon/client/whole_file.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : ", ") + word;
  return text;
}

void list_parts(Questions& questions, bool outputs) {
  for (const DraftPart& part : kDraftParts)
    if (part.is_output == outputs) {
      std::string row = "  " + std::string(part.word);
      row.resize(std::max<std::size_t>(row.size() + 2, 20), ' ');
      questions.say(row + std::string(part.what));
    }
}

DraftAnswers ask_all(Questions& questions) {
  DraftAnswers answers;
  for (std::size_t i = 0; i < kDraftQuestions.size(); ++i) {
    const DraftQuestion& question = kDraftQuestions[i];
    const bool parts = question.answer == nullptr;
    if (parts) list_parts(questions, question.words == &DraftAnswers::outputs);
    const std::string usual = parts ? joined(answers.*question.words) : answers.*question.answer;
    const std::string text = std::to_string(i + 1) + "/10 " + std::string(question.text) +
                             (parts ? " Words from the list, or none." : "");
    take_draft_answer(
        i,
        questions.ask(text, usual,
                      [&](const std::string& typed) { return draft_complaint(i, typed, answers); }),
        answers);
  }
  return answers;
}

json told_json(const std::vector<const Protection*>& list, std::string_view Protection::*what) {
  json out = json::array();
  for (const Protection* one : list)
    out.push_back({{"trouble", one->trouble}, {"neap", one->*what}});
  return out;
}

std::string told_text(const Protections& told, const Look& look) {
  std::string text = "With these parts you have these protections:\n";
  Table have({Table::Side::left, Table::Side::left});
  for (const Protection* one : told.have) have.add({one->trouble, one->with});
  text += have.text(look, kPageWidth, 2);
  if (told.lack.empty()) return text;
  Table lack({Table::Side::left, Table::Side::left});
  for (const Protection* one : told.lack) lack.add({one->trouble, one->without});
  return text + "and lack these:\n" + lack.text(look, kPageWidth, 2);
}

}  // namespace

int do_draft(Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.size() > 1)
    throw Failure(kExitUsage, "\"" + words::printable(words[1]) + "\" is one word too many",
                  "write: neap draft tent.yaml");
  const std::string path = words.empty() ? "tent.yaml" : words.front();
  if (std::filesystem::exists(path) && !session.args.overwrite)
    throw Failure(kExitRefused, path + " exists already", "name another file, or say --overwrite");
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      "begin again; nothing was written");
  const DraftAnswers answers = ask_all(questions);
  const std::string text = draft_yaml(answers);
  load_text_or_fail(path, text);  // no draft leaves that neap check refuses
  constexpr mode_t kForOthersToRead = 0644;
  if (const std::string trouble = write_whole_file(path, text, kForOthersToRead); !trouble.empty())
    throw Failure(kExitFailed, "cannot write " + path + ": " + trouble,
                  "name a file in a folder that you may write");
  const Protections told = protections_of(answers);
  session.show({{"file", path},
                {"have", told_json(told.have, &Protection::with)},
                {"lack", told_json(told.lack, &Protection::without)}},
               "\n" + told_text(told, session.look) +
                   wrapped("Written to " + path +
                               "; it observes and drives nothing. Next: neap "
                               "check " +
                               path + ", then neap probe " + path + ".",
                           kPageWidth) +
                   "\n");
  return kExitDone;
}

}  // namespace neap::client
