// neap-explain(7): what `neap explain` says, on paper.
#include "daemon/client/explain.h"
#include "daemon/manual/manual.h"
#include "daemon/manual/see_also.h"

namespace neap::manual {
namespace {

using client::Topic;
using client::TopicKind;

void put_topic(Page& page, const Topic& topic) {
  page.subsection(topic.code);
  page.text(capitalised(topic.title) + ".");
  page.more_text(topic.says.meaning);
  if (const auto list = client::causes(topic); !list.empty()) {
    page.text("Likely causes, the likeliest first:");
    page.bullets(list);
  }
  if (const auto list = client::steps(topic); !list.empty()) {
    page.text("What to check and do:");
    page.bullets(list);
  }
}

}  // namespace

std::string explain_page() {
  Page page("neap-explain", 7, "what alarms, refusals and faults of neap mean, and what to check");
  page.section("DESCRIPTION");
  page.text(
      "The same is printed, one by one, by neap explain NAME. Where a sentence has a figure, "
      "it stands here as three dots.");
  const auto all = client::topics();
  for (const TopicKind kind : {TopicKind::alarm, TopicKind::latch, TopicKind::refusal,
                               TopicKind::fault, TopicKind::exit}) {
    std::string capitals(client::heading(kind));
    for (char& c : capitals)
      if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    page.section(capitals);
    for (const Topic& topic : all)
      if (topic.kind == kind) put_topic(page, topic);
  }
  put_see_also(page, "neap-explain");
  return page.done();
}

}  // namespace neap::manual
