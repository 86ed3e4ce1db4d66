#include "drivers/bus/recording.h"

#include <array>
#include <charconv>
#include <sstream>

namespace neap::drivers {
namespace {

constexpr std::string_view kArrow = " -> ";
constexpr std::string_view kDone = "ok";

struct FaultName {
  Fault fault;
  std::string_view name;
};
constexpr std::array kFaults{
    FaultName{Fault::not_fitted, "not_fitted"},
    FaultName{Fault::no_answer, "no_answer"},
    FaultName{Fault::corrupt, "corrupt"},
    FaultName{Fault::out_of_range, "out_of_range"},
    FaultName{Fault::power_on_value, "power_on_value"},
    FaultName{Fault::absent, "absent"},
    FaultName{Fault::denied, "denied"},
    FaultName{Fault::taken, "taken"},
    FaultName{Fault::hung, "hung"},
    FaultName{Fault::ambiguous, "ambiguous"},
    FaultName{Fault::not_ready, "not_ready"},
    FaultName{Fault::open_wire, "open_wire"},
    FaultName{Fault::short_wire, "short_wire"},
};

// One line whatever the text holds.
std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '\n')
      out += "\\n";
    else if (c == '\\')
      out += "\\\\";
    else
      out += c;
  }
  return out;
}

std::string unescaped(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool escape = text[i] == '\\' && i + 1 < text.size();
    if (escape) ++i;
    out += escape && text[i] == 'n' ? '\n' : text[i];
  }
  return out;
}

std::string hex(unsigned byte) {
  constexpr std::string_view kDigits = "0123456789ABCDEF";
  return {kDigits[(byte >> 4) & 0xF], kDigits[byte & 0xF]};
}

std::string hex_row(std::span<const std::uint8_t> bytes) {
  std::string out;
  for (const std::uint8_t byte : bytes) out += (out.empty() ? "" : " ") + hex(byte);
  return out;
}

// True when `text` is exactly as many bytes as `into` takes.
bool parse_hex_row(const std::string& text, std::span<std::uint8_t> into) {
  std::istringstream words{text};
  std::size_t count = 0;
  for (std::string word; words >> word; ++count) {
    if (count == into.size() || word.size() != 2) return false;
    const auto [stop, error] =
        std::from_chars(word.data(), word.data() + word.size(), into[count], 16);
    if (error != std::errc{} || stop != word.data() + word.size()) return false;
  }
  return count == into.size();
}

std::string transfer_call(const std::string& node, std::uint8_t address,
                          std::span<const std::uint8_t> out, std::size_t in) {
  std::string call = "i2c " + node + " 0x" + hex(address);
  if (!out.empty()) call += " write " + hex_row(out);
  if (in > 0) call += " read " + std::to_string(in);
  return call;
}

std::string write_call(const std::string& path, std::string_view text) {
  return "write " + path + " " + escaped(text);
}

std::string told(Fault fault) { return "!" + std::string{recorded_name(fault)}; }
std::string done_or_told(Fault fault) {
  return fault == Fault::none ? std::string{kDone} : told(fault);
}

class RecordingKernel final : public Kernel {
 public:
  RecordingKernel(std::shared_ptr<Kernel> inner, std::function<void(const std::string&)> sink)
      : inner_(std::move(inner)), sink_(std::move(sink)) {}

  sysfs::Attribute read(const std::string& path) override {
    auto said = inner_->read(path);
    note("read " + path, said.text ? escaped(*said.text) : told(said.fault));
    return said;
  }

  Fault write(const std::string& path, std::string_view text) override {
    const Fault fault = inner_->write(path, text);
    note(write_call(path, text), done_or_told(fault));
    return fault;
  }

  std::vector<std::string> list(const std::string& folder) override {
    auto names = inner_->list(folder);
    std::string row;
    for (const std::string& name : names) row += (row.empty() ? "" : " ") + name;
    note("list " + folder, row);
    return names;
  }

  std::optional<std::string> resolve(const std::string& path) override {
    auto real = inner_->resolve(path);
    note("link " + path, real ? *real : told(Fault::absent));
    return real;
  }

  Fault transfer(const std::string& node, std::uint8_t address, std::span<const std::uint8_t> out,
                 std::span<std::uint8_t> in) override {
    const Fault fault = inner_->transfer(node, address, out, in);
    const bool said = fault == Fault::none && !in.empty();
    note(transfer_call(node, address, out, in.size()), said ? hex_row(in) : done_or_told(fault));
    return fault;
  }

 private:
  void note(const std::string& call, const std::string& result) {
    sink_(call + std::string{kArrow} + result);
  }

  std::shared_ptr<Kernel> inner_;
  std::function<void(const std::string&)> sink_;
};

}  // namespace

std::shared_ptr<Kernel> recording_kernel(std::shared_ptr<Kernel> inner,
                                         std::function<void(const std::string&)> sink) {
  return std::make_shared<RecordingKernel>(std::move(inner), std::move(sink));
}

std::string_view recorded_name(Fault fault) {
  for (const FaultName& row : kFaults)
    if (row.fault == fault) return row.name;
  return recorded_name(Fault::no_answer);
}

std::optional<Fault> recorded_fault(std::string_view name) {
  for (const FaultName& row : kFaults)
    if (row.name == name) return row.fault;
  return std::nullopt;
}

ReplayedKernel::Answer ReplayedKernel::answer(const std::string& call) {
  const std::string start = call + std::string{kArrow};
  if (next_ == lines_.size() || !lines_[next_].starts_with(start)) {
    if (divergence_.empty())
      divergence_ = "the driver asks \"" + call + "\", the recording has " +
                    (next_ == lines_.size() ? std::string{"ended"} : "\"" + lines_[next_] + "\"");
    return {{}, Fault::no_answer};
  }
  const std::string text = lines_[next_++].substr(start.size());
  if (!text.starts_with('!')) return {text, Fault::none};
  return {{}, recorded_fault(text.substr(1)).value_or(Fault::no_answer)};
}

sysfs::Attribute ReplayedKernel::read(const std::string& path) {
  const Answer said = answer("read " + path);
  if (said.fault != Fault::none) return {std::nullopt, said.fault};
  return {unescaped(said.text), Fault::none};
}

Fault ReplayedKernel::write(const std::string& path, std::string_view text) {
  return answer(write_call(path, text)).fault;
}

std::vector<std::string> ReplayedKernel::list(const std::string& folder) {
  std::istringstream words{answer("list " + folder).text};
  std::vector<std::string> names;
  for (std::string name; words >> name;) names.push_back(name);
  return names;
}

std::optional<std::string> ReplayedKernel::resolve(const std::string& path) {
  const Answer said = answer("link " + path);
  return said.fault == Fault::none ? std::optional(said.text) : std::nullopt;
}

Fault ReplayedKernel::transfer(const std::string& node, std::uint8_t address,
                               std::span<const std::uint8_t> out, std::span<std::uint8_t> in) {
  const Answer said = answer(transfer_call(node, address, out, in.size()));
  if (said.fault != Fault::none || in.empty()) return said.fault;
  return parse_hex_row(said.text, in) ? Fault::none : Fault::no_answer;
}

}  // namespace neap::drivers
