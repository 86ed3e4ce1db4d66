// What a backup is: a folder that a person can read, check and copy back without neap.
//
//   about.json       when, of which neap, how much of the journal
//   SHA256SUMS       of all other files, for `sha256sum -c`
//   journal.db       one file, nothing beside it
//   state/           what lies in the state directory: state, outputs.a, outputs.b, spool/, and the
//                    marker `restored` (core/state_folder.h), so that also a backup that was copied
//                    back by hand is not taken for the newest state
//   settings/        the settings in force, and the other YAML files of their folder
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/failure.h"

namespace neap::client {

inline constexpr const char* kAboutFile = "about.json";
inline constexpr const char* kSumsFile = "SHA256SUMS";
inline constexpr const char* kJournalFile = "journal.db";
inline constexpr const char* kStateFolder = "state";
inline constexpr const char* kSettingsFolder = "settings";

// Bounds of what is copied whole through memory: settings, manifests, hand measurements, markers.
constexpr std::size_t kSmallFile = 256 * 1024;

struct BackupAbout {
  std::string made;  // 2026-11-27T03:30:00Z, by the board's clock
  std::string version;
  std::string settings;   // name of the file in force in settings/
  std::int64_t tick = 0;  // of the journal's newest entry
  std::int64_t events = 0;
  std::int64_t readings = 0;
  std::int64_t days = 0;
};
nlohmann::json about_json(const BackupAbout& about);
// None when the folder has no such file, or it is of another form.
std::optional<BackupAbout> read_about(const std::filesystem::path& folder);

using Sums = std::map<std::string, std::string>;  // path within the backup: SHA-256
// Of one file as it is read now. A Failure when it cannot be read.
std::string sum_of(const std::filesystem::path& file);
// Of all files below, but SHA256SUMS. A Failure for what is neither file nor folder.
Sums sums_below(const std::filesystem::path& folder);
std::string sums_text(const Sums& sums);

// The body of a state file's newest whole slot; none: neither is whole.
std::optional<std::string> newest_state(const std::string& bytes);
// Tick at which that state was saved.
std::optional<std::int64_t> state_tick(const std::string& body);

// A backup that was read through and found good.
struct CheckedBackup {
  std::filesystem::path folder;
  BackupAbout about;
  Sums sums;
  std::int64_t tick = 0;  // the newest that journal and state know
  std::uintmax_t bytes = 0;
};
// Every file against its sum, no file too many or too few, the journal by the reader, a slot of the
// state. A Failure that names what is wrong.
CheckedBackup check_backup(const std::filesystem::path& folder);

}  // namespace neap::client
