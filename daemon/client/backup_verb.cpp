// neap backup, neap restore: the words around them.
#include <unistd.h>

#include <filesystem>

#include "daemon/client/backup.h"
#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/parse.h"
#include "daemon/client/restore.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr int kMostKept = 1000;

std::string paragraph(const std::string& text) {
  return wrapped(words::printable(text), kPageWidth, 2) + "\n";
}

// One word at most.
std::string only_word(const Session& session, const char* name, const char* usage) {
  const auto& words = session.args.words;
  if (words.size() > 1)
    throw Failure(kExitUsage, std::string("more than one ") + name, std::string("write: ") + usage);
  return words.empty() ? std::string() : words.front();
}

std::string counted(const BackupAbout& about) {
  return std::to_string(about.events) + " events, " + std::to_string(about.readings) +
         " readings, " + std::to_string(about.days) + " days";
}

json paths_json(const std::vector<fs::path>& paths) {
  json list = json::array();
  for (const fs::path& path : paths) list.push_back(path.string());
  return list;
}

}  // namespace

int do_backup(Session& session) {
  const std::string word = only_word(session, "DIR", "neap backup DIR --keep 14");
  const fs::path into = word.empty() ? fs::path(session.globals.state_dir) / "backup"
                                     : fs::path(word).lexically_normal();
  const int keep = session.args.keep.empty()
                       ? 0
                       : parse_whole("--keep", session.args.keep, 1, kMostKept, "--keep 14");
  const Interrupt interrupt;
  const MadeBackup made = make_backup(session.globals, into, keep, session.around.now_unix_ms());
  constexpr double kMega = 1e6;
  std::string text =
      paragraph(made.folder.string() + ": " + counted(made.about) + ", settings and state, " +
                std::to_string(static_cast<int>(static_cast<double>(made.bytes) / kMega + 0.5)) +
                " MB, read back and found good.");
  if (!made.gone.empty())
    text += paragraph("Removed as older than the newest " + std::to_string(keep) + ": " +
                      std::to_string(made.gone.size()) +
                      (made.gone.size() == 1 ? " backup." : " backups."));
  for (const std::string& remark : made.remarks) text += paragraph("Note: " + remark + ".");
  if (made.same_disk)
    text += paragraph(
        "It is on the disk that it would replace: copy it to another one now and "
        "then, or name a folder there.");
  session.show({{"backup", made.folder.string()},
                {"about", about_json(made.about)},
                {"bytes", made.bytes},
                {"same_disk", made.same_disk},
                {"removed", paths_json(made.gone)},
                {"remarks", made.remarks}},
               text);
  return kExitDone;
}

int do_restore(Session& session) {
  const std::string word =
      only_word(session, "BACKUP", "neap restore /mnt/stick/neap-20261127T033000Z");
  const Interrupt interrupt;
  const CheckedBackup backup = check_backup(fs::path(word).lexically_normal());
  const bool beside = !session.args.to.empty();
  const Restored restored =
      beside ? restore_to(backup, fs::path(session.args.to).lexically_normal())
             : restore_in_place(backup, session.globals, session.args.over_newer);
  std::string text = paragraph("Restored to " + restored.state_dir.string() + ", as of " +
                               backup.about.made + ": " + counted(backup.about) + ".");
  if (!restored.set_aside.empty()) {
    text += "What was there is kept in:\n";
    for (const fs::path& path : restored.set_aside)
      text += "  " + words::printable(path.string()) + "\n";
  }
  for (const std::string& remark : restored.remarks) text += paragraph(remark);
  if (beside)
    text += "Start neapd on it:\n  neapd --settings " + restored.settings.string() +
            " \\\n    --state-dir " + restored.state_dir.string() + " \\\n    --journal " +
            restored.journal.string() + "\n";
  text += paragraph(
      "neapd will count the pump's budget of a day as spent and withhold floods: what happened "
      "after the backup nobody knows. Start it, look at the table, then `neap reset state`.");
  session.show({{"restored", restored.state_dir.string()},
                {"journal", restored.journal.string()},
                {"settings", restored.settings.string()},
                {"about", about_json(backup.about)},
                {"set_aside", paths_json(restored.set_aside)},
                {"remarks", restored.remarks}},
               text);
  return kExitDone;
}

}  // namespace neap::client
