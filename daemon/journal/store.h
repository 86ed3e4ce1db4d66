// One open journal file, as the writer thread uses it: opens and migrates, then stores batches in
// one transaction each. It does not wait, try again or keep anything; daemon/journal/writer.cpp
// does.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "daemon/journal/hour.h"
#include "daemon/journal/journal.h"
#include "daemon/journal/pack.h"
#include "daemon/journal/sqlite.h"

namespace neap::journal {

using Entry =
    std::variant<EventEntry, ClockEntry, SettingsEntry, BootEntry, StopEntry, MeasurementEntry,
                 AmendmentEntry, CalibrationEntry, DiaryEntry, ClientEntry>;
std::int64_t tick_of(const Entry& entry);

struct Losses {
  std::uint64_t readings = 0;
  std::uint64_t events = 0;
  std::string why;
  bool any() const { return readings > 0 || events > 0 || !why.empty(); }
};

// One transaction. `number` counts a writer's batches from 1; stored with its entries, it tells
// after a failed sync whether the batch is in the file.
struct Batch {
  std::span<const PackedReading> readings;
  std::span<const Entry> entries;
  Losses losses;
  std::int64_t newest_tick = 0;
  std::int64_t writer = 0;
  std::int64_t number = 0;
};

struct Stored {
  int code = SQLITE_OK;       // anything else: nothing of the batch was stored
  std::uint64_t refused = 0;  // entries that no file would take (too long, for instance)
};

class Store {
 public:
  struct Opened {
    std::unique_ptr<Store> store;  // none: `code` and `problem` say why
    int code = SQLITE_OK;
    bool damaged = false;  // no database, or its pages contradict each other
    std::string problem;
  };
  // `log_sure_until`: of the store before this one, when that one failed. From that byte of the log
  // on nobody knows what is on the disk, and it is written again; none: there was no failure.
  static Opened open(const Options& options, std::optional<std::int64_t> log_sure_until = {});

  Stored write(const Batch& batch);
  bool holds(std::int64_t writer, std::int64_t number);  // was this batch the last one committed?
  // Before the end of a store whose write failed: what its log holds is left to the next one.
  void abandon();
  // Byte of the log up to which all is synced, or in the file besides.
  std::int64_t log_sure_until() const { return log_sure_until_; }
  // Size of the log; beyond `most` only after it was tried in vain to cut it to nothing, for which
  // no other program may be reading an older view.
  std::int64_t log_bytes_within(std::int64_t most);

 private:
  explicit Store(Database db);
  static int committed(void* store, sqlite3* db, const char* name, int frames);
  int prepare();
  int prepare_summaries();
  int prepare_packing();
  void resume();

  int store(const EventEntry& entry);
  int store(const ClockEntry& entry);
  int store(const SettingsEntry& entry);
  int store(const BootEntry& entry);
  int store(const StopEntry& entry);
  int store(const MeasurementEntry& entry);
  int store(const AmendmentEntry& entry);
  int store(const CalibrationEntry& entry);
  int store(const DiaryEntry& entry);
  int store(const ClientEntry& entry);
  int pack_old_hours();
  int pack_rows_of(std::int64_t hour);
  int pack_into_block(std::int64_t key, std::vector<PackedReading>& readings);
  HourFigures figures_known(std::int64_t key);
  int store_hour(std::int64_t key, const HourFigures& figures);
  int drop_old_blocks();
  int summarise_days(std::int64_t stored_until);
  int summarise_day(std::int64_t began, std::int64_t closed);
  std::optional<double> resting_level(std::int64_t before);
  int store_cycle(const CycleRow& row);
  int store_day(const DayTally& tally, Instant closed);
  int store_alarm_change(const EventEntry& entry);
  std::optional<std::int64_t> newest_raising(Alarm alarm, bool cleared_too);
  int store_event_row(const EventEntry& entry);
  int store_span(std::int64_t from_tick, const ClockEntry& clock);
  int rebuild_spans();
  int store_all(const Batch& batch, std::uint64_t& refused);

  // What the file's own rows say about where it stands; read again after every rollback.
  struct Position {
    std::int64_t next_event = 1;
    std::int64_t boot = 0;
    std::optional<std::int64_t> boot_tick;  // none: no boot has been recorded
    TimeQuality best_quality = TimeQuality::unset;
    bool days_open = true;  // a closed day may be without its summary
  };

  Database db_;
  int days_a_batch_ = 1;      // that are summed up in one transaction
  int packings_a_batch_ = 1;  // likewise, of some rows each
  std::int64_t pack_after_ = 0;
  std::optional<std::int64_t> keep_;       // none: readings are never deleted
  std::optional<std::int64_t> drop_from_;  // tick; none: not known yet
  std::int64_t log_sure_until_ = 0;
  Position at_;
  Statement begin_, commit_, rollback_, reading_, event_, cycle_, day_, batch_, loss_;
  Statement clock_, span_, clear_spans_, clocks_since_, adopt_clocks_, boot_, stop_;
  Statement alarm_newest_, alarm_raise_, alarm_acknowledge_, alarm_clear_;
  Statement settings_, measurement_, amendment_, calibration_, diary_, client_;
  Statement open_day_, floods_, flood_began_, day_summary_, day_point_;
  Statement oldest_reading_, newest_reading_, hour_rows_, drop_rows_, packed_, block_, hour_;
  Statement hour_figures_, oldest_block_, drop_blocks_;
};

}  // namespace neap::journal
