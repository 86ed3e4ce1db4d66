#include "daemon/shell/desk.h"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/journal/reader.h"
#include "daemon/shell/frames.h"
#include "daemon/shell/verbs.h"
#include "daemon/words/words.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

using nlohmann::json;

class DeskTest : public testing::Test {
 protected:
  DeskTest() { run.run_for(minutes{5}); }

  // The answer, once the scan has had its turn; null when the connection would end.
  json ask(const std::string& text, Role role = Role::administer, Millis age = {}) {
    json answer;
    const Peer peer{1000, 42, role};
    const bool kept = desk.handle(text, peer, run.daemon().now() - age,
                                  [&](const std::string& line) { answer = json::parse(line); });
    run.timers().run_until(run.daemon().now());
    return kept ? answer : json();
  }
  json ask(int id, const std::string& verb, json args = json::object(),
           Role role = Role::administer) {
    return ask(json{{"id", id}, {"verb", verb}, {"args", args}}.dump(), role);
  }

  SimulatedRun run{demo_that_floods()};
  Desk desk{run.daemon(), "settings.yaml"};
};

TEST_F(DeskTest, WhatIsNoObjectOrTooDeepEndsTheConnection) {
  for (const char* text :
       {"", "x", "[]", "7", "{\"id\":1", "{\"id\":1e999}", "{\"id\":\"\xff\"}",
        "{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":1}}}}}}}}}"})
    EXPECT_TRUE(ask(text).is_null()) << text;
}

TEST_F(DeskTest, AMalformedRequestIsToldWhatIsWrong) {
  for (const char* text :
       {"{\"verb\":\"ping\"}", "{\"id\":0,\"verb\":\"ping\"}", "{\"id\":1.5,\"verb\":\"ping\"}",
        "{\"id\":2147483648,\"verb\":\"ping\"}", "{\"id\":1}", "{\"id\":1,\"verb\":7}",
        "{\"id\":1,\"verb\":\"ping\",\"args\":[]}", "{\"id\":1,\"verb\":\"ping\",\"ttl_ms\":0}"})
    EXPECT_EQ(ask(text)["error"]["code"], "bad_request") << text;
  EXPECT_EQ(ask(1, "pingg")["error"]["code"], "unknown_verb");
}

TEST_F(DeskTest, EachVerbIsOpenToItsRoleAndThoseAboveOnly) {
  int id = 0;
  for (const Verb& verb : verbs()) {
    run.run_for(seconds{2});  // the rate is not the matter here
    for (const Role role : {Role::none, Role::view, Role::operate, Role::administer}) {
      const json answer = ask(++id, std::string(verb.name), json{{"path", "/nowhere"}}, role);
      const bool denied = answer.contains("error") && answer["error"]["code"] == "not_permitted";
      EXPECT_EQ(denied, role < verb.role) << verb.name << " as " << static_cast<int>(role);
    }
  }
}

TEST_F(DeskTest, ARepeatOfAChangeGetsTheFirstAnswerAndIsNotCarriedOutTwice) {
  const json args = {{"output", "light"}, {"level", 1000}, {"for_s", 60}};
  const json first = ask(5, "hold", args);
  EXPECT_EQ(first["ok"], true);
  const Instant until = run.daemon().state().holds[Output::light].until;
  run.run_for(seconds{10});
  EXPECT_EQ(ask(5, "hold", args), first);
  EXPECT_EQ(run.daemon().state().holds[Output::light].until, until);
  run.run_for(seconds{61});
  ask(5, "hold", args);  // the window is over: a new request
  EXPECT_GT(run.daemon().state().holds[Output::light].until, until);
}

TEST_F(DeskTest, ALateRequestIsRefused) {
  const std::string text = R"({"id":9,"verb":"flood","ttl_ms":1000,"args":{"action":"start"}})";
  EXPECT_EQ(ask(text, Role::operate, Millis{1001})["error"]["code"], "late");
}

TEST_F(DeskTest, MoreThanTwentyRequestsASecondAreTooMany) {
  for (int id = 1; id <= 20; ++id) EXPECT_EQ(ask(id, "ping")["ok"], true) << id;
  EXPECT_EQ(ask(21, "ping")["error"]["code"], "busy");
  run.run_for(seconds{1});
  EXPECT_EQ(ask(22, "ping")["ok"], true);
}

TEST_F(DeskTest, ARefusalByTheScanCarriesItsReason) {
  const json answer = ask(3, "reset", {{"latch", "leak"}}, Role::operate);
  EXPECT_EQ(answer["error"]["code"], "refused");
  EXPECT_EQ(answer["error"]["reason"]["reason"], "latch_not_set");
}

// What a change led to, with its end as tick and wall time.
void expect_until(const json& result, Instant now, double for_s) {
  EXPECT_EQ(result["for_s"], for_s);
  EXPECT_EQ(result["until"]["tick"], tick_ms(now) + static_cast<std::int64_t>(for_s * 1000));
  EXPECT_EQ(result["until"]["unix_ms"], kMidnightMs +
                                            (now - next_whole_second(kUglyStart)).count() +
                                            static_cast<std::int64_t>(for_s * 1000));
}

TEST_F(DeskTest, AnAnswerToAChangeCarriesWhatWasGranted) {
  const Instant now = run.daemon().now();
  json result = ask(1, "hold", {{"output", "exhaust_fan"}, {"level", 450}})["result"];
  EXPECT_EQ(result["output"], "exhaust_fan");
  EXPECT_EQ(result["level"], 450);
  EXPECT_EQ(result["word"], "45 %");
  expect_until(result, now, 1800);
  result = ask(2, "release", {{"output", "exhaust_fan"}})["result"];
  EXPECT_EQ(result["output"], "exhaust_fan");
  result = ask(3, "service", {{"action", "begin"}, {"for_s", 1500}})["result"];
  expect_until(result, now, 1500);
  result = ask(4, "service", {{"action", "end"}})["result"];
  EXPECT_FALSE(result.contains("until"));
  result = ask(5, "shelve", {{"alarm", "spread"}, {"for_s", 600}})["result"];
  EXPECT_EQ(result["alarm"], "spread");
  expect_until(result, now, 600);
  result = ask(6, "stage", {{"name", "flowering"}})["result"];
  EXPECT_EQ(result["name"], "flowering");
  EXPECT_EQ(result["number"], 3);
  result = ask(7, "flood", {{"action", "start"}})["result"];
  EXPECT_EQ(result["phase"], "fill");
}

// The newest line of `neap events` for the kind.
std::string newest(const std::string& journal, EventKind kind) {
  std::string error;
  const auto reader = journal::Reader::open(journal, error);
  if (!reader) return error;
  const auto rows = reader->events({}, {kind}, 1);
  return rows.empty() ? "none" : words::sentence(rows[0].event, {}, rows[0].name);
}

TEST_F(DeskTest, AStepTestIsRefusedWithAReasonAndARemedy) {
  // The run begins at midnight: the fan's test wants light.
  json answer = ask(1, "step_test", {{"action", "start"}, {"output", "exhaust_fan"}});
  EXPECT_EQ(answer["error"]["code"], "refused");
  EXPECT_EQ(answer["error"]["reason"]["reason"], "step_test_by_day");
  EXPECT_EQ(answer["error"]["remedy"], "ask again while the light is on");
  answer = ask(2, "step_test", {{"action", "stop"}});
  EXPECT_EQ(answer["error"]["reason"]["reason"], "step_test_not_running");
  answer = ask(3, "step_test", {{"action", "start"}, {"output", "pump"}});
  EXPECT_EQ(answer["error"]["code"], "bad_request");
  answer = ask(4, "step_test", {{"action", "begin"}});
  EXPECT_EQ(answer["error"]["code"], "bad_request");
  EXPECT_TRUE(ask(5, "status")["result"]["step_test"].is_null());
}

TEST_F(DeskTest, AStepTestUnderWayStandsInStatusWhyAndJournal) {
  run.run_for(hours{2});
  const Instant now = run.daemon().now();
  json answer = ask(1, "step_test", {{"action", "start"}, {"output", "dehumidifier"}});
  ASSERT_EQ(answer["ok"], true) << answer;
  EXPECT_EQ(answer["result"]["steps"], 4);
  expect_until(answer["result"], now, 3600);
  json status = ask(2, "status")["result"]["step_test"];
  EXPECT_EQ(status["output"], "dehumidifier");
  EXPECT_EQ(status["step"], 1);
  EXPECT_EQ(status["left_s"], 3600);
  EXPECT_EQ(ask(3, "why", {{"output", "exhaust_fan"}})["result"]["reason"]["text"],
            "step test, step 1 of 4");
  ask(4, "step_test", {{"action", "stop"}});
  EXPECT_TRUE(ask(5, "status")["result"]["step_test"].is_null());
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::step_test),
            "step test of the dehumidifier ended: stopped by an operator");
}

TEST_F(DeskTest, AFaultOfTheSimulatedTentIsAnEventThatNamesItAndWhoAsked) {
  ask(1, "fault", {{"fault", "hose_burst"}, {"severity", 0.5}});
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::fault),
            "fault hose_burst begun: asked by uid 1000, severity 0.50");
  EXPECT_TRUE(run.log().has("fault hose_burst begun"));
  ask(2, "fault", {{"fault", "hose_burst"}, {"active", false}});
  ask(3, "fault", {{"fault", "no_such_fault"}});
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::fault),
            "fault hose_burst ended: asked by uid 1000");
}

TEST_F(DeskTest, StagesAndWhatWasAskedForStandByNameInJournalAndLog) {
  ask(1, "ack", {{"alarm", "spread"}});
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::request), "request 1 (ack spread) accepted");
  ask(2, "ack", {{"all", true}});
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::request), "request 2 (ack all) accepted");
  ask(3, "stage", {{"name", "flowering"}});
  run.daemon().journal().flush();
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::request),
            "request 3 (stage flowering) accepted");
  EXPECT_EQ(newest(run.dir() / "journal", EventKind::stage), "stage flowering in force, number 3");
  EXPECT_TRUE(run.log().has("stage flowering in force, number 3"));
}

TEST_F(DeskTest, StatusNamesEveryFittedOutputAndHasAVerdict) {
  const json status = ask(4, "status", json::object(), Role::view)["result"];
  EXPECT_EQ(status["outputs"].size(), 7u);
  EXPECT_TRUE(status["verdict"]["text"].is_string());
  EXPECT_FALSE(status["readings"].empty());
  EXPECT_EQ(status["stage"]["name"], "leafing");
  EXPECT_LT(status.dump().size(), kAnswerBytes);
}

TEST_F(DeskTest, HandMeasurementsOutsideWhatAMeterShowsAreRefused) {
  EXPECT_EQ(ask(6, "measure", {{"values", {{"ph", 5.9}, {"ec", 1.6}}}})["result"]["stored"], 2);
  EXPECT_EQ(ask(7, "measure", {{"values", {{"ph", 59}}}})["error"]["code"], "bad_request");
  EXPECT_EQ(ask(8, "measure", {{"values", {{"pH", 5.9}}}})["error"]["code"], "bad_request");
  EXPECT_EQ(ask(9, "measure")["error"]["code"], "bad_request");
}

TEST(Frames, AFrameComesBackFromAnyCutOfItsBytes) {
  const std::string bytes = *make_frame("{\"id\":1}") + *make_frame("{\"id\":2}");
  for (std::size_t cut = 0; cut <= bytes.size(); ++cut) {
    FrameReader reader;
    std::vector<std::string> got;
    for (const std::string& part : {bytes.substr(0, cut), bytes.substr(cut)}) {
      reader.feed(part);
      while (auto payload = reader.next()) got.push_back(*payload);
    }
    EXPECT_EQ(got, (std::vector<std::string>{"{\"id\":1}", "{\"id\":2}"})) << cut;
    EXPECT_FALSE(reader.partial());
  }
}

TEST(Frames, ALengthOfNothingOrTooMuchBreaksTheStream) {
  for (const std::string& head : {std::string("\0\0\0\0", 4), std::string("\0\0\x40\x01", 4),
                                  std::string("\xff\xff\xff\xff", 4)}) {
    FrameReader reader;
    reader.feed(head);
    EXPECT_FALSE(reader.next());
    EXPECT_TRUE(reader.broken());
  }
  FrameReader fits;
  fits.feed(std::string("\0\0\x40\x00", 4) + std::string(16384, 'x'));
  EXPECT_TRUE(fits.next());
}

}  // namespace
}  // namespace neap::shell
