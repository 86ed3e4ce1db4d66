// Goal: the manual is sound mdoc and reads well at 80 columns, names everything that the programs
// take, and completion completes. Method: the pages as the build makes them, judged by mandoc(1)
// itself; the completion sourced by a real bash.
#include "daemon/manual/manual.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "daemon/client/command_line.h"
#include "daemon/client/explain.h"
#include "daemon/core/points.h"
#include "daemon/manual/mdoc.h"
#include "daemon/manual/option_list.h"
#include "daemon/settings/describe.h"
#include "daemon/shell/command_line.h"
#include "tests/places.h"

namespace neap::manual {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsSupersetOf;

struct Ran {
  int status = 0;
  std::string out;
};

Ran run(const std::string& command) {
  Ran ran;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> chunk{};
  for (std::size_t got = 0; (got = std::fread(chunk.data(), 1, chunk.size(), pipe)) > 0;)
    ran.out.append(chunk.data(), got);
  ran.status = ::pclose(pipe);
  return ran;
}

// A page is too long to be shown by a matcher.
bool has(const std::string& page, const std::string& text) {
  return page.find(text) != std::string::npos;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

class Manual : public ::testing::Test {
 protected:
  Manual() {
    std::string pattern = (std::filesystem::temp_directory_path() / "neap-manual-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
    for (const Made& made : all_made()) std::ofstream(folder_ / made.file) << made.make();
  }
  ~Manual() override {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  std::string path(std::string_view file) const { return (folder_ / file).string(); }

  static bool has_mandoc() { return run("command -v mandoc").status == 0; }
  // As it reads on a terminal: bold and underline are overstruck characters.
  std::string at_80_columns(std::string_view page) const {
    const std::string struck = run("mandoc -T ascii -O width=80 " + path(page)).out;
    std::string text;
    for (const char c : struck) {
      if (c != '\b')
        text += c;
      else
        text.pop_back();
    }
    return text;
  }
  // What bash offers for a command line whose last word is being typed.
  std::vector<std::string> completed(const std::string& words) const {
    const Ran ran =
        run("NEAP_SETTINGS=" + places::in_project("config/demo.yaml") +
            " bash -c 'set -eu; source " + path("neap.bash") + "; COMP_WORDS=(" + words +
            "); COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); _neap || true; "
            "printf \"%s\\n\" \"${COMPREPLY[@]}\"'");
    EXPECT_EQ(ran.status, 0) << ran.out;
    return lines_of(ran.out);
  }

 private:
  std::filesystem::path folder_;
};

constexpr std::array kPages{"neap.1", "neap-settings.5", "neap-explain.7", "neapd.8"};

TEST_F(Manual, MandocFindsNothingToWarnOf) {
  if (!has_mandoc()) GTEST_SKIP() << "mandoc is not installed";
  for (const char* page : kPages) {
    const Ran ran = run("mandoc -T lint -W warning " + path(page));
    EXPECT_EQ(ran.out, "") << page;
    EXPECT_EQ(ran.status, 0) << page;
  }
}

TEST_F(Manual, MandocWouldHaveSeenABrokenPage) {
  if (!has_mandoc()) GTEST_SKIP() << "mandoc is not installed";
  std::ofstream(path("neap.1"), std::ios::app) << ".Bl -tag\n.It no end\n";
  EXPECT_NE(run("mandoc -T lint -W warning " + path("neap.1")).out, "");
}

TEST_F(Manual, ReadsWellAt80Columns) {
  if (!has_mandoc()) GTEST_SKIP() << "mandoc is not installed";
  for (const char* page : kPages)
    for (const std::string& line : lines_of(at_80_columns(page)))
      EXPECT_LE(client::columns(line), 80U) << page << ": " << line;
  const std::string text = at_80_columns("neap.1");
  EXPECT_THAT(text, HasSubstr("   hold OUTPUT LEVEL [for LENGTH]\n"));
  EXPECT_THAT(text, HasSubstr("neap hold exhaust_fan 45% for 10m\n"));
  EXPECT_THAT(text, HasSubstr("--severity TEXT"));
  EXPECT_THAT(at_80_columns("neap-explain.7"), HasSubstr("Water at a leak probe (high priority)."));
}

TEST_F(Manual, NamesWhateverTheProgramsTake) {
  client::CommandLine line;
  client::declare(line);
  const std::string client = client_page();
  for (const client::Verb& verb : client::verbs()) {
    EXPECT_TRUE(has(client, "\n.Ss " + std::string(verb.name))) << verb.name;
    const CLI::App& app = *line.app.get_subcommand(std::string(verb.name));
    for (const CLI::Option* each : options_of(app))
      EXPECT_TRUE(has(client, ".It Fl \\-" + each->get_lnames().front())) << verb.name;
  }
  for (const client::VariableRow& row : client::kVariables)
    EXPECT_TRUE(has(client, ".It " + std::string(row.name) + "\n"));
  shell::CommandLine daemon;
  shell::declare(daemon);
  for (const CLI::Option* each : options_of(daemon.app))
    EXPECT_TRUE(has(daemon_page(), ".It Fl \\-" + each->get_lnames().front()));
  const std::string explained = explain_page();
  for (const client::Topic& topic : client::topics()) {
    if (topic.kind == client::TopicKind::affair) continue;
    EXPECT_TRUE(has(explained, "\n.Ss " + argument(topic.code) + "\n"));
  }
  const std::string settings = settings_page();
  for (const char* key : {"soak_limit", "quiet_ceiling", "one_wire", "canopy.humidity"})
    EXPECT_TRUE(has(settings, ".It " + std::string(key) + "\n"));
}

TEST(Mdoc, WhatATableSaysIsNeverAMacro) {
  Page page("x", 1, "x");
  page.section("DESCRIPTION");
  page.text(".Sh is no macro here. A \\ stays; `x' too");
  EXPECT_THAT(page.done(), HasSubstr("\n\\&.Sh is no macro here.\nA \\e stays; \\(gax\\(aq too\n"));
  EXPECT_EQ(argument("Op of [FILE] ... \"a\""), "\\&Op of [FILE] \\&... \\(dqa\\(dq");
}

TEST_F(Manual, BashCompletesVerbsAndTheirWords) {
  EXPECT_THAT(completed("neap ev"), ElementsAre("events"));
  EXPECT_THAT(completed("neap why exh"), ElementsAre("exhaust_fan"));
  EXPECT_THAT(completed("neap reset l"), ElementsAre("leak", "lost-water"));
  EXPECT_THAT(completed("neap ack a"), ElementsAre("air-pump", "all"));
  EXPECT_THAT(completed("neap hold pump st"), ElementsAre("stopped"));
  EXPECT_THAT(completed("neap hold pump stopped f"), ElementsAre("for"));
  EXPECT_THAT(completed("neap chart canopy.vpd room.v"), IsSupersetOf({"room.vpd"}));
  EXPECT_THAT(completed("neap measure p"), IsSupersetOf({"ph=", "ph_down="}));
  EXPECT_THAT(completed("neap explain lost"), ElementsAre("lost-water"));
  EXPECT_THAT(completed("neap stage le"), ElementsAre("leafing"));
  EXPECT_THAT(completed("neap away 6"), ElementsAre(""));
}

TEST_F(Manual, BashCompletesOptionsBeforeAndAfterAVerb) {
  EXPECT_THAT(completed("neap --jo"), ElementsAre("--journal"));
  EXPECT_THAT(completed("neap events --l"), ElementsAre("--limit", "--lines"));
  EXPECT_THAT(completed("neap events --js"), ElementsAre("--json"));
  EXPECT_THAT(completed("neap --socket s events --si"), ElementsAre("--since"));
  EXPECT_THAT(completed("neap events --kind la"), ElementsAre("latch_set", "latch_reset"));
  EXPECT_THAT(completed("neap events --since 2"), ElementsAre(""));
  EXPECT_THAT(completed("neap --color a"), ElementsAre("auto", "always"));
  EXPECT_THAT(completed("neap check " + places::in_project("config/demo.ya")),
              ElementsAre(places::in_project("config/demo.yaml")));
}

TEST_F(Manual, EveryWordThatIsOfferedStandsInTheVerbsHelp) {
  client::CommandLine line;
  client::declare(line);
  for (const char* verb : {"flood", "service", "step-test", "calibrate", "care", "turnover",
                           "weekly", "grow", "mix"}) {
    const std::string help = line.app.get_subcommand(verb)->help();
    for (const std::string& word : completed("neap " + std::string(verb) + " \"\""))
      EXPECT_THAT(help, HasSubstr(word)) << verb;
  }
}

}  // namespace
}  // namespace neap::manual
