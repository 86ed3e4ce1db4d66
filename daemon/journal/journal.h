// The journal's writing side: one thread, one SQLite file (WAL, synchronous FULL). Callers only
// queue; nothing here ever blocks or fails the scan. Events, actuations, cycles, alarms, settings
// revisions, boots and hand measurements are durable within 1 s; readings are batched, 60 s at most
// in memory. On a full disk events go on in the room that was kept for them. When there is none
// left, or the file is locked or gone, entries wait in a bounded ring, the oldest readings fall out
// first and are counted, and trouble() is true until a write succeeds again.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/event.h"
#include "daemon/core/instant.h"
#include "daemon/core/points.h"
#include "daemon/core/reading.h"

namespace neap::journal {

enum class Durability : std::uint8_t {
  full,       // live: FULL, events within a second
  simulated,  // virtual clock: large batches, a second of real time at most, no sync (a power cut
              // may lose the file), and put() waits while more is queued than the thread keeps up
              // with
};

struct Options {
  std::string path;
  Durability durability = Durability::full;
  Millis readings_batch = seconds{60};
  Millis events_batch{200};  // gathers a burst, well inside the second
  // Readings stand as rows until their hour (of the tick) is over for so long; then it is packed.
  Millis pack_after = hours{2};
  // Packed readings older than this (of the tick: of the time that neapd ran) are deleted, two
  // days' of them a day at most; their hourly figures and all else stay. None: nothing is ever
  // deleted.
  std::optional<Millis> keep_readings{};
  std::size_t ring_readings = 100000;
  std::size_t ring_events = 10000;
  // Bytes of the write-ahead log. It stays near 4 MB, unless another program keeps an old view of
  // the journal open: then it cannot be used again from its beginning and grows by a day's writing
  // a day. From `log_noticed` on log_notice() asks for the cure; beyond `log_most` readings wait in
  // memory and the events, a tenth of it all, have what is left of the disk.
  std::int64_t log_noticed = std::int64_t{64} << 20;
  std::int64_t log_most = std::int64_t{256} << 20;
  // Bytes kept free for events in PATH.reserve (reserve.h). After a full disk readings wait until
  // it can be kept again.
  std::int64_t reserve = 0;
  // Why the file must stay as it is; empty: it is written. Entries then wait in memory, and it is
  // not even opened.
  std::string untouched{};
};

struct ReadingEntry {
  Instant tick{};
  Point point = Point::canopy_temperature;
  std::optional<double> value;
  Quality quality = Quality::bad;
  Fault fault = Fault::none;
};
struct EventEntry {
  Instant tick{};
  Event event;
  // What the event is about where only settings, a driver or a request know its name: the stage,
  // the simulated fault, what was asked for. Empty where the event's own numbers say it all.
  std::string name{};
};
// A wall reading beside a tick; views compute local time from the rows, so that a late time sync
// corrects the past.
struct ClockEntry {
  Instant tick{};
  WallTime wall;
};
struct SettingsEntry {
  Instant tick{};
  std::uint64_t hash = 0;
  std::string text;
  bool accepted = true;
  std::string note;  // difference, or the errors
};
struct BootEntry {
  Instant tick{};
  std::string version;
  bool clean_before = false;  // the run before ended by a proper stop
};
struct StopEntry {
  Instant tick{};
  std::string why;
};
struct MeasurementEntry {
  Instant tick{};
  std::string id;  // taken in once
  std::int64_t taken_unix_ms = 0;
  std::string quantity;  // HandInfo::name
  double value = 0;      // in its unit
  std::string note;
  std::string photo{};  // a path, as the person wrote it
};
// What is said of a measurement afterwards; the measurement itself stays as it is.
struct AmendmentEntry {
  Instant tick{};
  std::string id;               // taken in once
  std::string of;               // MeasurementEntry::id
  std::optional<double> value;  // none: withdrawn
  std::string reason;
};
struct CalibrationEntry {
  Instant tick{};
  Point point = Point::solution_ph;
  std::string readings;  // "7=6.91 4=4.05"
  double temperature_c = 0;
  double zero = 0;
  double slope = 0;
};
// What a person told beside figures. The kinds and what their fields are: daemon/journal/diary.h.
struct DiaryEntry {
  Instant tick{};
  std::string id;  // taken in once
  std::int64_t happened_unix_ms = 0;
  std::string kind;  // DiaryKindInfo::name
  std::string subject;
  std::optional<double> figure;
  std::string mark;
  std::string says;
};
struct ClientEntry {  // who asked what over the control socket
  Instant tick{};
  std::uint32_t uid = 0;
  std::int32_t pid = 0;
  std::string verb;
  bool accepted = false;
  std::string detail;
};

class Writer {
 public:
  // Opens (and migrates up) or creates the file, on the writer's own thread: after the first
  // flush() it is there, or trouble() says why not. Never throws: a file that cannot be opened
  // leaves a writer that queues and tries again. A corrupt file is set aside as NAME.corrupt-TICK.
  static std::unique_ptr<Writer> open(const Options& options);
  virtual ~Writer() = default;  // flushes what it can

  virtual void put(const ReadingEntry& entry) = 0;
  virtual void put(const EventEntry& entry) = 0;
  virtual void put(const ClockEntry& entry) = 0;
  virtual void put(SettingsEntry entry) = 0;
  virtual void put(BootEntry entry) = 0;
  virtual void put(StopEntry entry) = 0;
  virtual void put(MeasurementEntry entry) = 0;
  virtual void put(AmendmentEntry entry) = 0;
  virtual void put(CalibrationEntry entry) = 0;
  virtual void put(DiaryEntry entry) = 0;
  virtual void put(ClientEntry entry) = 0;

  virtual void flush() = 0;  // blocks until all queued so far is written or has failed
  virtual bool trouble() const = 0;
  virtual std::string trouble_text() const = 0;
  // What to do about a log that has outgrown its bounds (Options::log_noticed); empty: nothing.
  virtual std::string log_notice() const = 0;
  virtual std::uint64_t readings_lost() const = 0;
};

// Largest tick in an existing journal, or none: the shell takes the later of this and the state
// file.
std::optional<Instant> newest_tick(const std::string& path);

// What to tell a person of a journal that a later neap wrote; empty of any other file, or none.
std::string written_by_later(const std::string& path);

}  // namespace neap::journal
