#include "daemon/client/session.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"
#include "daemon/client/socket.h"
#include "daemon/core/limits.h"
#include "daemon/settings/quantity.h"
#include "daemon/words/words.h"

namespace neap::client {

using nlohmann::json;

std::size_t page_width(const Arguments& args) { return args.narrow ? kPhoneWidth : kPageWidth; }

bool shows_utf8(const Surroundings& around) {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const auto locale = around.variable(name);
    if (!locale || locale->empty()) continue;
    const std::string small = settings::lower_case(*locale);
    return small.find("utf-8") != std::string::npos || small.find("utf8") != std::string::npos;
  }
  return false;
}

std::string json_line(const json& value) {
  return value.dump(-1, ' ', false, json::error_handler_t::replace) + "\n";
}

json Session::ask(std::string_view verb, const json& args_of_verb) const {
  return ask_daemon(globals.socket, verb, args_of_verb);
}

void Session::show(const json& value, const std::string& text) const {
  out() << (globals.json ? json_line(value) : text);
}

std::string read_settings_text(const std::string& path) {
  const auto fail = [&](int error) {
    throw Failure(kExitFailed, "cannot read " + path + ": " + std::strerror(error),
                  "give the path of a settings file");
  };
  const Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!fd) fail(errno);
  std::string text;
  std::array<char, 4096> chunk{};
  while (text.size() <= limits::kSettingsBytes) {
    const ssize_t got = ::read(fd.number(), chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail(errno);
    if (got == 0) break;
    text.append(chunk.data(), static_cast<std::size_t>(got));
  }
  return text;
}

json problems_json(const std::string& path, const std::string& text,
                   const std::vector<settings::Problem>& problems) {
  json list = json::array();
  for (const settings::Problem& problem : problems)
    list.push_back({{"line", problem.line},
                    {"column", problem.column},
                    {"key", problem.key},
                    {"message", problem.message},
                    {"remedy", problem.remedy},
                    {"text", settings::render(path, text, problem)}});
  return list;
}

settings::Loaded load_text_or_fail(const std::string& path, const std::string& text) {
  settings::LoadResult result = settings::load_text(text);
  if (result.loaded) return std::move(*result.loaded);
  throw Failure(kExitRefused,
                path + " has " + std::to_string(result.problems.size()) +
                    (result.problems.size() == 1 ? " problem" : " problems"),
                "", {{"problems", problems_json(path, text, result.problems)}});
}

settings::Loaded load_or_fail(const std::string& path) {
  return load_text_or_fail(path, read_settings_text(path));
}

std::unique_ptr<journal::Reader> open_journal(const std::string& path) {
  std::string error;
  auto reader = journal::Reader::open(path, error);
  if (!reader)
    throw Failure(kExitNoJournal, words::printable(error),
                  "give its path with --journal, or in NEAP_JOURNAL");
  return reader;
}

}  // namespace neap::client
