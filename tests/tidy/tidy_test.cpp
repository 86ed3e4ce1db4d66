// Goal: the layer rule and the house bans hold in every file. Method: reads the sources as text;
// each rule is a row, and a planted breach shows that the row can fail.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <regex>
#include <string>
#include <vector>

#include "tests/places.h"

namespace {

namespace fs = std::filesystem;

struct Line {
  std::string file;
  int number = 0;
  std::string text;
};

std::vector<Line> lines_of(const fs::path& file, const std::string& shown) {
  std::vector<Line> lines;
  std::ifstream in(file);
  std::string text;
  for (int n = 1; std::getline(in, text); ++n) lines.push_back({shown, n, text});
  return lines;
}

bool is_source(const fs::path& path) {
  const auto ext = path.extension();
  return ext == ".h" || ext == ".cpp";
}

std::vector<Line> sources_below(const std::string& folder) {
  std::vector<Line> all;
  const fs::path root = neap::places::project();
  for (const auto& entry : fs::recursive_directory_iterator(root / folder)) {
    if (!entry.is_regular_file() || !is_source(entry.path())) continue;
    const auto more = lines_of(entry.path(), fs::relative(entry.path(), root).string());
    all.insert(all.end(), more.begin(), more.end());
  }
  return all;
}

struct LayerRule {
  std::string folder;
  std::string may_include;  // regex over the text between quotes or angle brackets
};

// <name> without a dot or slash is the standard library; the vocabulary of the core is what a
// driver may know of neap.
const std::string kStd = "[a-z_0-9]+";
// Deny by default: what values and arithmetic need. No stream, file, thread, lock, clock of ctime
// or random device can be had of these; <chrono> is here for its durations (its clocks are banned
// below).
const std::string kPureStd =
    "(algorithm|array|bit|cassert|charconv|chrono|cmath|compare|concepts|cstddef|cstdint|"
    "functional|"
    "initializer_list|iterator|limits|numbers|numeric|optional|span|string|string_view|tuple|"
    "type_traits|utility|variant|vector)";
const std::string kVocabulary =
    "daemon/core/(instant|units|points|outputs|reading|fixed|limits)\\.h";
const std::vector<LayerRule> kLayers{
    {"daemon/core", kPureStd + "|daemon/core/.*"},
    {"daemon/identify", kPureStd + "|daemon/(core|identify)/.*"},
    {"daemon/solution", kPureStd + "|daemon/solution/.*|" + kVocabulary},
    {"daemon/words", kStd + "|daemon/(core|words)/.*"},
    {"drivers", kStd + "|drivers/.*|nlohmann/json\\.hpp|" + kVocabulary +
                    "|(sys|linux|arpa)/.*\\.h|(fcntl|unistd|poll|signal|spawn|pthread)\\.h"},
    {"daemon/settings", kStd + "|daemon/(core|settings|solution)/.*|drivers/.*|yaml-cpp/.*|"
                               "nlohmann/json\\.hpp|(sys)/.*\\.h|(fcntl|unistd)\\.h"},
    {"daemon/journal", kStd + "|daemon/(core|words|journal)/.*|sqlite3(ext)?\\.h|(sys)/.*\\.h|"
                              "(fcntl|unistd)\\.h"},
    {"daemon/tell", kPureStd + "|deque|map|set|daemon/(core|words|tell)/.*|"
                               "daemon/settings/telling\\.h|daemon/journal/reader\\.h|"
                               "nlohmann/json\\.hpp"},
    {"daemon/client",
     kStd +
         "|daemon/(core|identify|solution|words|settings|journal|tell|client|shell/version)[/.].*|"
         "drivers/(hardware|bus/survey)\\.h|"
         "nlohmann/json\\.hpp|CLI/.*|(sys|arpa)/.*\\.h|"
         "(fcntl|unistd|poll|pwd|signal|spawn|termios|stdlib|curses|sha2)\\.h"},
    {"daemon/manual", kStd + "|daemon/(core|words|settings|client|manual)/.*|"
                             "daemon/shell/(command_line|version)\\.h|"
                             "drivers/(driver|simulated/faults)\\.h|CLI/.*"},
};

std::vector<std::string> include_breaches(const LayerRule& rule, const std::vector<Line>& lines) {
  static const std::regex include_line(R"re(^\s*#include\s+["<]([^">]+)[">])re");
  const std::regex allowed(rule.may_include);
  std::vector<std::string> found;
  std::smatch match;
  for (const Line& line : lines)
    if (std::regex_search(line.text, match, include_line) &&
        !std::regex_match(match[1].str(), allowed))
      found.push_back(line.file + ":" + std::to_string(line.number) + ": " + line.text);
  return found;
}

// Each of `breaches` is a line that must be seen: a pattern that matches nothing never fails.
struct Ban {
  std::string folder;
  std::string pattern;
  std::string instead;
  std::vector<std::string> breaches;
};

const std::vector<Ban> kBans{
    {"daemon/core",
     R"(steady_clock|system_clock|high_resolution_clock|\bclock_gettime\b|\btime\s*\(|::now\s*\()",
     "time is an argument",
     {"auto t = std::chrono::steady_clock::now();", "time(nullptr);",
      "auto t = TickClock::now();"}},
    {"daemon/core",
     R"(\bsleep|\bgetenv\b|\bstd::thread\b|\bmutex\b|\bfopen\b|\bprintf\b|std::cout)",
     "the core has no clock, environment, thread, file or log",
     {"std::this_thread::sleep_for(x);", "std::getenv(name);", "std::cout << x;"}},
    {"daemon/core",
     R"(^\s*#\s*if)",
     "options are data: both branches are always compiled",
     {"#ifdef NEAP_FAST", "  # if 1"}},
    {"daemon/core",
     R"(\bNAN\b|quiet_NaN|\bnan\()",
     "absence is a type, never a number",
     {"return std::numeric_limits<double>::quiet_NaN();", "double x = NAN;"}},
    {"drivers",
     R"(steady_clock|system_clock|\bclock_gettime\b)",
     "the hub stamps time",
     {"std::chrono::system_clock::now()"}},
    {"drivers",
     R"([Ss]leep)",
     "begin() returns how long to wait",
     {"::nanosleep(&wait, nullptr);", "std::this_thread::sleep_until(x);"}},
    {"drivers",
     R"([Rr]etr(y|ied|ies))",
     "the hub tries again, with its back-off",
     {"for (int retry = 0; retry < 3; ++retry)", "constexpr int kRetries = 3;"}},
    {"drivers",
     R"(\bexit\(|\babort\(|\bterminate\()",
     "hardware errors never end the process",
     {"std::exit(1);", "std::terminate();"}},
    {"daemon",
     R"(\bco_await\b|\bco_return\b|\bco_yield\b)",
     "no coroutines while Debian 12's g++ is supported",
     {"co_return 1;"}},
    {"daemon",
     R"(\b(TODO|FIXME|XXX|HACK)\b)",
     "do it, or do not begin it",
     {"int x = 0 /* TODO */;"}},
    {"drivers", R"(\b(TODO|FIXME|XXX|HACK)\b)", "do it, or do not begin it", {"int FIXME = 1;"}},
    {"tests",
     R"(sleep_for|sleep_until|\busleep\()",
     "virtual time, or wait for a condition",
     {"std::this_thread::sleep_for(100ms);"}},
};

std::vector<std::string> ban_breaches(const Ban& ban, const std::vector<Line>& lines) {
  const std::regex pattern(ban.pattern);
  std::vector<std::string> found;
  for (const Line& line : lines) {
    if (line.file.rfind("tests/tidy/", 0) == 0) continue;
    const std::string code = line.text.substr(0, line.text.find("//"));
    if (std::regex_search(code, pattern))
      found.push_back(line.file + ":" + std::to_string(line.number) + ": " + line.text + "  (" +
                      ban.instead + ")");
  }
  return found;
}

TEST(Tidy, EveryFolderIncludesOnlyWhatItsLayerMay) {
  for (const LayerRule& rule : kLayers) {
    const auto lines = sources_below(rule.folder);
    ASSERT_GT(lines.size(), 50u) << rule.folder;
    EXPECT_THAT(include_breaches(rule, lines), testing::IsEmpty()) << rule.folder;
  }
}

TEST(Tidy, APlantedIncludeIsSeen) {
  const std::vector<Line> planted{{"daemon/core/x.cpp", 1, "#include <boost/asio.hpp>"},
                                  {"daemon/core/x.cpp", 2, "#include \"daemon/shell/hub.h\""},
                                  {"daemon/core/x.cpp", 3, "#include <vector>"}};
  EXPECT_EQ(include_breaches(kLayers[0], planted).size(), 2u);
}

TEST(Tidy, TheCoreMayNotIncludeWhatReachesOutside) {
  for (const std::string header :
       {"atomic", "condition_variable", "cstdio", "cstdlib", "ctime", "filesystem", "fstream",
        "future", "iostream", "mutex", "random", "sstream", "thread"})
    EXPECT_EQ(
        include_breaches(kLayers[0], {{"daemon/core/x.h", 1, "#include <" + header + ">"}}).size(),
        1u)
        << header;
}

TEST(Tidy, NoBannedWordInAnyFolder) {
  for (const Ban& ban : kBans)
    EXPECT_THAT(ban_breaches(ban, sources_below(ban.folder)), testing::IsEmpty()) << ban.pattern;
}

// Hook of the safety case: the kernel is small, knows no text and takes no memory.
TEST(Tidy, TheInterlockKernelHasNoHeapAndNoText) {
  const Ban ban{"daemon/core",
                R"(std::(string|vector|map|function|unique_ptr|optional)\b|\bnew\b|<iostream>)",
                "the kernel is enumerated whole",
                {}};
  std::vector<Line> kernel;
  for (const Line& line : sources_below(ban.folder))
    if (line.file.find("core/interlock.") != std::string::npos) kernel.push_back(line);
  ASSERT_GT(kernel.size(), 200u);
  EXPECT_LE(kernel.size(), 600u);
  EXPECT_THAT(ban_breaches(ban, kernel), testing::IsEmpty());
}

TEST(Tidy, EveryBanSeesItsPlantedBreaches) {
  for (const Ban& ban : kBans) {
    EXPECT_FALSE(ban.breaches.empty()) << ban.pattern;
    for (const std::string& text : ban.breaches)
      EXPECT_EQ(ban_breaches(ban, {{ban.folder + "/x.cpp", 1, text}}).size(), 1u) << text;
  }
}

TEST(Tidy, ACommentMaySayABannedWord) {
  const std::vector<Line> planted{{"daemon/core/x.cpp", 2, "// a comment may say steady_clock"}};
  EXPECT_THAT(ban_breaches(kBans[0], planted), testing::IsEmpty());
}

TEST(Tidy, AsioStaysInTheShell) {
  for (const std::string folder : {"daemon/core", "daemon/words", "daemon/settings",
                                   "daemon/journal", "daemon/tell", "daemon/client", "drivers"})
    EXPECT_THAT(ban_breaches({folder, "boost/asio", "the shell waits", {}}, sources_below(folder)),
                testing::IsEmpty());
}

TEST(Tidy, FilesStayShortEnoughToKnow) {
  std::map<std::string, int> lengths;
  for (const std::string folder : {"daemon", "drivers"})
    for (const Line& line : sources_below(folder)) lengths[line.file] = line.number;
  for (const auto& [file, length] : lengths) EXPECT_LE(length, 450) << file;
}

TEST(Tidy, LinesFitAHundredColumns) {
  for (const std::string folder : {"daemon", "drivers", "tests"})
    for (const Line& line : sources_below(folder)) {
      const auto continuation = [](unsigned char c) { return (c & 0xC0) == 0x80; };
      const auto width = static_cast<std::ptrdiff_t>(line.text.size()) -
                         std::count_if(line.text.begin(), line.text.end(), continuation);
      EXPECT_TRUE(width <= 100 || line.text.find("R\"") != std::string::npos)
          << line.file << ":" << line.number;
    }
}

TEST(Tidy, TheMapInDevelopersNamesEveryFolder) {
  std::ifstream in(neap::places::in_project("DEVELOPERS.md"));
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  for (const std::string parent : {"daemon", "drivers", "tests"})
    for (const auto& entry : fs::directory_iterator(fs::path(neap::places::project()) / parent))
      if (entry.is_directory()) {
        const std::string name = parent + "/" + entry.path().filename().string();
        EXPECT_NE(text.find(name), std::string::npos) << name << " is not on the map";
      }
}

}  // namespace
