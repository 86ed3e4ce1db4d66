// Goal: an answer is taken as a person means it.
#include "daemon/client/questions.h"

#include "tests/client/support.h"

namespace neap::client {
namespace {

bool yes_of(const std::string& typed) {
  std::istringstream in(typed + "\n");
  std::ostringstream out;
  Questions questions(in, out, false, "");
  return questions.yes("Does it run?");
}

TEST(Questions, YesAndNoAreTakenInCapitalsToo) {
  for (const char* typed : {"yes", "Yes", "YES", "y", "Y", " Y "}) EXPECT_TRUE(yes_of(typed));
  for (const char* typed : {"no", "No", "NO", "n", "N"}) EXPECT_FALSE(yes_of(typed));
  EXPECT_THROW(yes_of("Yo"), Failure) << "asked again, and the answers end";
}

}  // namespace
}  // namespace neap::client
