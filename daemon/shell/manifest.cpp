#include "daemon/shell/manifest.h"

#include <algorithm>
#include <array>
#include <charconv>

#include "daemon/core/crc32c.h"
#include "daemon/core/state_folder.h"
#include "daemon/shell/files.h"

namespace neap::shell {
namespace {

constexpr std::string_view kFirstLine = "neap-manifest 1\n";
constexpr std::size_t kLongest = 64 * 1024;

// Parameter values may hold anything a settings text may: blanks, percent signs and control
// characters are written as %XX, so that a line always splits at its blanks.
std::string escape(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte <= ' ' || byte == '%' || byte == 0x7F)
      out += "%" + hex(byte, 2);
    else
      out += c;
  }
  return out;
}

std::optional<std::string> unescape(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      out += text[i];
      continue;
    }
    const auto code = parse_hex(text.substr(std::min(i + 1, text.size()), 2));
    if (!code || i + 2 >= text.size()) return std::nullopt;
    out += static_cast<char>(*code);
    i += 2;
  }
  return out;
}

std::vector<std::string_view> split(std::string_view line) {
  std::vector<std::string_view> words;
  std::size_t from = 0;
  while (true) {
    const std::size_t blank = line.find(' ', from);
    words.push_back(line.substr(from, blank - from));
    if (blank == std::string_view::npos) return words;
    from = blank + 1;
  }
}

std::optional<int> parse_level(std::string_view text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  if (value < kStopped.value || value > kRunning.value) return std::nullopt;
  return value;
}

// One line after the first. False: not a line that to_text() writes.
bool take_line(std::string_view line, Manifest& out) {
  const std::vector<std::string_view> words = split(line);
  if (words[0] == "revision" && words.size() == 3) {
    const auto revision = parse_hex(words[1]);
    const auto hash = parse_hex(words[2]);
    if (!revision || !hash) return false;
    out.revision = *revision;
    out.settings_hash = *hash;
    return true;
  }
  if (words[0] == "output" && words.size() == 4) {
    const OutputInfo* output = find_output(words[1]);
    const auto safe = parse_level(words[2]);
    const auto driver = unescape(words[3]);
    if (output == nullptr || !safe || !driver) return false;
    out.rows.push_back({{output->output, *driver, {}}, Permille{*safe}});
    return true;
  }
  if (out.rows.empty() || words.size() < 2) return false;
  const auto name = unescape(words[1]);
  if (!name) return false;
  drivers::OutputSetup& setup = out.rows.back().setup;
  if ((words[0] == "param" || words[0] == "pulse") && words.size() == 3) {
    const auto value = unescape(words[2]);
    if (words[0] == "pulse" && !setup.enable_pulse) setup.enable_pulse.emplace();
    if (value) (words[0] == "pulse" ? *setup.enable_pulse : setup.params).set(*name, *value);
    return value.has_value();
  }
  if (words[0] != "words") return false;
  std::vector<std::string> values;
  for (std::size_t i = 2; i < words.size(); ++i) {
    const auto value = unescape(words[i]);
    if (!value) return false;
    values.push_back(*value);
  }
  setup.params.set_words(*name, std::move(values));
  return true;
}

}  // namespace

Manifest manifest_of(const Plan& plan, const drivers::Hardware& hardware) {
  Manifest out;
  out.settings_hash = plan.hash;
  for (const drivers::OutputSetup& setup : hardware.outputs) {
    if (in_another_hand(plan, setup.output)) continue;
    const auto& output = plan.outputs[setup.output];
    out.rows.push_back({setup, output ? output->safe : info(setup.output).safe});
  }
  return out;
}

Manifest next_manifest(const settings::Loaded& next, const Manifest& before) {
  Manifest out = manifest_of(next.plan, next.hardware);
  out.revision = before.revision;
  if (to_text(out) != to_text(before)) ++out.revision;
  return out;
}

bool same_outputs(const Manifest& a, const Manifest& b) {
  return std::equal(a.rows.begin(), a.rows.end(), b.rows.begin(), b.rows.end(),
                    [](const ManifestRow& x, const ManifestRow& y) {
                      return x.setup.output == y.setup.output && x.setup.driver == y.setup.driver &&
                             x.setup.params == y.setup.params &&
                             x.setup.enable_pulse == y.setup.enable_pulse;
                    });
}

std::string to_text(const Manifest& manifest) {
  std::string text(kFirstLine);
  text += "revision " + hex(manifest.revision, 16) + " " + hex(manifest.settings_hash, 16) + "\n";
  for (const ManifestRow& row : manifest.rows) {
    text += "output " + std::string(info(row.setup.output).name) + " " +
            std::to_string(row.safe.value) + " " + escape(row.setup.driver) + "\n";
    for (const auto& [name, value] : row.setup.params.scalars())
      text += "param " + escape(name) + " " + escape(value) + "\n";
    if (row.setup.enable_pulse)
      for (const auto& [name, value] : row.setup.enable_pulse->scalars())
        text += "pulse " + escape(name) + " " + escape(value) + "\n";
    for (const auto& [name, values] : row.setup.params.all_words()) {
      text += "words " + escape(name);
      for (const std::string& value : values) text += " " + escape(value);
      text += "\n";
    }
  }
  return text + "crc " + hex(crc32c(text), 8) + "\n";
}

std::optional<Manifest> manifest_from(std::string_view text) {
  constexpr std::size_t kCrcLine = 4 + 8 + 1;  // "crc ", eight digits, newline
  if (text.size() < kFirstLine.size() + kCrcLine || !text.starts_with(kFirstLine))
    return std::nullopt;
  std::string_view body = text.substr(0, text.size() - kCrcLine);
  const std::string wanted = "crc " + hex(crc32c(body), 8) + "\n";
  if (text.substr(body.size()) != wanted) return std::nullopt;
  Manifest out;
  body.remove_prefix(kFirstLine.size());
  while (!body.empty()) {
    const std::size_t end = body.find('\n');
    if (end == std::string_view::npos || !take_line(body.substr(0, end), out)) return std::nullopt;
    body.remove_prefix(end + 1);
  }
  return out;
}

std::optional<Manifest> load_manifest(const std::string& state_dir) {
  std::optional<Manifest> best;
  for (const std::string_view copy : state_folder::kOutputs) {
    const auto text = read_file(state_dir + "/" + std::string(copy), kLongest);
    if (!text) continue;
    std::optional<Manifest> candidate = manifest_from(*text);
    if (candidate && (!best || candidate->revision > best->revision)) best = std::move(candidate);
  }
  return best;
}

std::string save_manifest(const std::string& state_dir, const Manifest& manifest) {
  const std::string text = to_text(manifest);
  for (const std::string_view copy : state_folder::kOutputs) {
    const std::string path = state_dir + "/" + std::string(copy);
    if (read_file(path, kLongest) == text) continue;
    const std::string error = write_file_atomically(path, text, 0640);
    if (!error.empty()) return error;
  }
  return {};
}

}  // namespace neap::shell
