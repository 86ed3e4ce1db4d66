#include "daemon/manual/option_list.h"

namespace neap::manual {

std::vector<const CLI::Option*> words_of(const CLI::App& app) {
  return app.get_options([](const CLI::Option* each) { return each->get_positional(); });
}

std::vector<const CLI::Option*> options_of(const CLI::App& app) {
  return app.get_options([](const CLI::Option* each) {
    return !each->get_positional() && !each->check_name("--help");
  });
}

bool takes_value(const CLI::Option& option) { return option.get_items_expected_max() > 0; }

std::string dashed(const CLI::Option& option) { return "--" + option.get_lnames().front(); }

void put_options(Page& page, const CLI::App& app) {
  const auto options = options_of(app);
  if (options.empty()) return;
  page.begin_list();
  for (const CLI::Option* each : options) {
    page.term_option(dashed(*each), takes_value(*each) ? each->get_type_name() : std::string());
    page.more_text(each->get_description());
  }
  page.end_list();
}

}  // namespace neap::manual
