#include "daemon/journal/block.h"

#include <algorithm>

#include "daemon/core/crc32c.h"
#include "daemon/journal/bits.h"

namespace neap::journal {
namespace {

constexpr char kForm = 1;  // of the blob; its first byte
constexpr std::size_t kChecksum = 4;

std::uint64_t unsigned_of(std::int64_t value) { return static_cast<std::uint64_t>(value); }

// The checksum covers the key too: a block under another's key is no block.
std::string checksum(std::int64_t key, std::string_view bytes) {
  std::string text;
  const auto add = [&text](std::uint64_t value, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) text += static_cast<char>(value >> (8 * i));
  };
  add(unsigned_of(key), sizeof key);
  const std::uint32_t sum = crc32c(bytes, crc32c(text));
  text.clear();
  add(sum, kChecksum);
  return text;
}

// Quality, fault and whether there is a value, in one small number.
unsigned state_of(const PackedReading& reading) {
  return static_cast<unsigned>(reading.q) * 2 + (reading.v ? 1 : 0);
}

// Most readings come at one interval; how far each is from it is what is written.
void pack_ticks(std::span<const PackedReading> readings, BitWriter& out) {
  std::vector<std::uint64_t> gaps;
  for (std::size_t i = 1; i < readings.size(); ++i)
    gaps.push_back(unsigned_of(tick_of_key(readings[i].k) - tick_of_key(readings[i - 1].k)));
  std::vector<std::uint64_t> sorted = gaps;
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  const std::uint64_t usual = sorted.empty() ? 0 : *middle;
  out.number(usual);
  for (std::uint64_t& gap : gaps) gap = folded(gap - usual);
  out.series(gaps);
}

void pack_states(std::span<const PackedReading> readings, BitWriter& out) {
  for (std::size_t i = 0; i < readings.size();) {
    const unsigned state = state_of(readings[i]);
    std::size_t end = i;
    while (end < readings.size() && state_of(readings[end]) == state) ++end;
    out.number(state);
    out.number(end - i);
    i = end;
  }
}

void pack_values(std::span<const PackedReading> readings, BitWriter& out) {
  std::vector<std::uint64_t> steps;
  std::uint64_t before = 0;
  for (const PackedReading& reading : readings) {
    if (!reading.v) continue;
    steps.push_back(folded(unsigned_of(*reading.v) - before));
    before = unsigned_of(*reading.v);
  }
  if (steps.empty()) return;
  out.number(steps.front());
  out.series(std::span(steps).subspan(1));
}

void unpack_ticks(std::int64_t key, BitReader& in, std::vector<PackedReading>& out) {
  const std::int64_t point = static_cast<std::int64_t>(point_of_key(key));
  const std::int64_t begins = tick_of_key(key) * kHourMs;
  const std::uint64_t count = in.number();
  std::uint64_t ms = in.number();  // within the hour
  const std::uint64_t usual = in.number();
  if (!in.good() || count == 0 || count > unsigned_of(kHourMs)) return;
  const auto take = [&] {
    if (ms < unsigned_of(kHourMs))
      out.push_back({(begins + static_cast<std::int64_t>(ms)) * kPointsInKey + point, {}, 0});
  };
  take();
  in.series(static_cast<std::size_t>(count - 1), [&](std::uint64_t step) {
    const std::uint64_t gap = usual + unfolded(step);
    ms = gap > 0 && gap < unsigned_of(kHourMs) && ms < unsigned_of(kHourMs) ? ms + gap
                                                                            : unsigned_of(kHourMs);
    take();
  });
  if (out.size() != count) out.clear();
}

// False: the runs do not cover the readings.
bool unpack_states(BitReader& in, std::vector<PackedReading>& out) {
  for (std::size_t i = 0; i < out.size();) {
    const std::uint64_t state = in.number();
    const std::uint64_t run = in.number();
    if (!in.good() || state > 511 || run == 0 || run > out.size() - i) return false;
    for (const std::size_t end = i + static_cast<std::size_t>(run); i < end; ++i) {
      out[i].q = static_cast<std::uint8_t>(state / 2);
      if (state % 2 == 1) out[i].v = 0;
    }
  }
  return true;
}

void unpack_values(BitReader& in, std::vector<PackedReading>& out) {
  std::size_t at = 0;
  const auto next = [&] {
    while (at < out.size() && !out[at].v) ++at;
    return at < out.size();
  };
  if (!next()) return;
  std::uint64_t value = unfolded(in.number());
  out[at++].v = static_cast<std::int64_t>(value);
  const auto left =
      std::count_if(out.begin() + static_cast<std::ptrdiff_t>(at), out.end(),
                    [](const PackedReading& reading) { return reading.v.has_value(); });
  in.series(static_cast<std::size_t>(left), [&](std::uint64_t step) {
    value += unfolded(step);
    if (next()) out[at++].v = static_cast<std::int64_t>(value);
  });
}

}  // namespace

std::string pack_block(std::span<const PackedReading> readings) {
  const std::int64_t first = tick_of_key(readings.front().k);
  const std::int64_t hour = hour_of(first);
  std::string packed(1, kForm);
  BitWriter out(packed);
  out.number(readings.size());
  out.number(unsigned_of(first - hour * kHourMs));
  pack_ticks(readings, out);
  pack_states(readings, out);
  pack_values(readings, out);
  const std::int64_t point = static_cast<std::int64_t>(point_of_key(readings.front().k));
  packed += checksum(block_key(hour, point), packed);
  return packed;
}

std::optional<std::vector<PackedReading>> unpack_block(std::int64_t key, std::string_view packed,
                                                       std::string& problem) {
  const auto refused = [&](const char* why) {
    problem = "the packed readings of point " +
              std::to_string(static_cast<int>(point_of_key(key))) + " in the hour from tick " +
              std::to_string(tick_of_key(key) * kHourMs) + " (reading_block " +
              std::to_string(key) + ") " + why;
    return std::nullopt;
  };
  if (packed.size() <= kChecksum) return refused("are cut short");
  const std::string_view bytes = packed.substr(0, packed.size() - kChecksum);
  if (checksum(key, bytes) != packed.substr(bytes.size())) return refused("are damaged");
  if (bytes.front() != kForm) return refused("are of a later neap; install it to read them");
  BitReader in(bytes.substr(1));
  std::vector<PackedReading> readings;
  unpack_ticks(key, in, readings);
  if (readings.empty() || !unpack_states(in, readings)) return refused("contradict themselves");
  unpack_values(in, readings);
  if (!in.good() || !in.at_end()) return refused("contradict themselves");
  return readings;
}

}  // namespace neap::journal
