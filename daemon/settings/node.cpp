#include "daemon/settings/node.h"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/mark.h>
#include <yaml-cpp/parser.h>

#include <sstream>

#include "daemon/core/limits.h"

namespace neap::settings {
namespace {

struct TooMuch {};  // stops the parser at a limit

// Does the quote at the front of `rest` close on this line?
bool quote_closes(std::string_view rest) {
  const char quote = rest.front();
  for (std::size_t i = 1; i < rest.size(); ++i) {
    if (quote == '"' && rest[i] == '\\') {
      ++i;
    } else if (rest[i] == quote) {
      if (quote == '"' || i + 1 >= rest.size() || rest[i + 1] != '\'') return true;
      ++i;  // '' inside '...' is one quote
    }
  }
  return false;
}

class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(const Source& source, Report& report) : source_(source), report_(report) {}

  std::optional<Node> take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ < 2) return;
    report_.add(place(mark), "", "a second document starts here; settings are one document",
                "delete the line \"---\", or move the rest to a file of its own");
    throw TooMuch{};
  }
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    attach(make(mark, NodeKind::empty, "", anchor));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    Node node = make(mark, NodeKind::refused, "", 0);
    tell_once(alias_told_, node.place, "an alias (*name) is refused in settings",
              "write the value out where it is used");
    attach(std::move(node));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    Node node = make(mark, NodeKind::scalar, tag, anchor);
    node.text = value;
    if (node.kind == NodeKind::scalar) check_one_line(mark, node);
    attach(std::move(node));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    open(make(mark, NodeKind::list, tag, anchor));
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    open(make(mark, NodeKind::map, tag, anchor));
  }
  void OnMapEnd() override { close(); }

 private:
  Place place(const YAML::Mark& mark) const { return source_.place_of(mark.line, mark.column); }

  std::string_view rest_of_line(const YAML::Mark& mark) const {
    const std::string_view rest = source_.text().substr(source_.byte_of(mark.line, mark.column));
    return rest.substr(0, rest.find('\n'));
  }

  Node make(const YAML::Mark& mark, NodeKind kind, const std::string& tag, YAML::anchor_t anchor) {
    if (++nodes_ > limits::kSettingsNodes) {
      report_.add(place(mark), "", "more than 2000 values; settings are refused above that",
                  "a tent's settings take some 300: is this the right file?");
      throw TooMuch{};
    }
    Node node;
    node.kind = kind;
    node.place = place(mark);
    const bool tagged =
        rest_of_line(mark).starts_with('!') || !(tag.empty() || tag == "?" || tag == "!");
    if (anchor != 0)
      tell_once(anchor_told_, node.place, "an anchor (&name) is refused in settings",
                "write the value out where it is used");
    else if (tagged)
      tell_once(tag_told_, node.place, "a tag (!name) is refused in settings", "delete the tag");
    if ((anchor != 0 || tagged) && kind != NodeKind::list && kind != NodeKind::map)
      node.kind = NodeKind::refused;
    return node;
  }

  // A bomb has thousands of them; the first of a kind tells enough.
  void tell_once(bool& told, Place where, std::string message, std::string remedy) {
    if (!told) report_.add(where, "", std::move(message), std::move(remedy));
    told = true;
  }

  void check_one_line(const YAML::Mark& mark, Node& node) {
    const std::string_view rest = rest_of_line(mark);
    const char first = rest.empty() ? ' ' : rest.front();
    std::string_view message;
    std::string_view remedy = "write it on one line";
    if (first == '"' || first == '\'') {
      node.quoted = true;
      if (!quote_closes(rest)) {
        message = "the quote that opens here is not closed on its line";
        remedy = "close the quote";
      } else if (first == '"' && rest.substr(0, rest.find('"', 1)).find('\\') != rest.npos) {
        message = "a backslash in double quotes is refused in settings: it may hide a character";
        remedy = "write the character itself, or use single quotes";
      }
    } else if (first == '|' || first == '>') {
      message = "text over several lines (| or >) is refused in settings";
    } else if (!rest.starts_with(node.text)) {
      message = "the value goes on over the next line; settings are one line each";
      remedy = "write it on one line; a line that belongs to the key above needs its own key";
    }
    if (message.empty()) return;
    report_.add(node.place, "", std::string(message), std::string(remedy));
    node.kind = NodeKind::refused;
  }

  void open(Node node) {
    if (open_.size() >= static_cast<std::size_t>(limits::kSettingsDepth)) {
      report_.add(node.place, "", "nested deeper than 16 levels; settings are refused below that",
                  "the deepest setting stands on level 6: check the indentation and brackets");
      throw TooMuch{};
    }
    open_.push_back(std::move(node));
  }

  void close() {
    Node node = std::move(open_.back());
    open_.pop_back();
    attach(std::move(node));
  }

  void attach(Node node) {
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    Node& parent = open_.back();
    // The parser sees that a value is missing when it meets the next thing; people look at the key.
    if (node.kind == NodeKind::empty && !parent.keys.empty()) node.place = parent.keys.back().place;
    if (parent.kind == NodeKind::map && parent.keys.size() == parent.items.size())
      attach_key(parent, std::move(node));
    else
      parent.items.push_back(std::move(node));
  }

  void attach_key(Node& parent, Node key) {
    check_key(parent, key);
    parent.keys.push_back(std::move(key));
  }

  void check_key(const Node& parent, Node& key) {
    if (key.kind == NodeKind::refused) return;
    if (key.kind != NodeKind::scalar) {
      report_.add(key.place, "", "a key must be a word", "write \"key: value\"");
      key.kind = NodeKind::refused;
    } else if (key.text == "<<") {
      report_.add(key.place, "<<", "a merge key (<<) is refused in settings",
                  "write the keys out where they are used");
      key.kind = NodeKind::refused;
    } else if (const Node* first = twin(parent, key.text)) {
      report_.add(key.place, key.text,
                  key.text + " is given twice; first at line " + std::to_string(first->place.line) +
                      ", column " + std::to_string(first->place.column),
                  "keep one of the two");
      key.kind = NodeKind::refused;
    }
  }

  static const Node* twin(const Node& parent, std::string_view text) {
    for (const auto& key : parent.keys)
      if (key.kind == NodeKind::scalar && key.text == text) return &key;
    return nullptr;
  }

  const Source& source_;
  Report& report_;
  std::optional<Node> root_;
  std::vector<Node> open_;
  int nodes_ = 0;
  int documents_ = 0;
  bool alias_told_ = false;
  bool anchor_told_ = false;
  bool tag_told_ = false;
};

}  // namespace

const Node* Node::find(std::string_view key) const {
  const Node* found = find_key(key);
  return found == nullptr ? nullptr : &items[static_cast<std::size_t>(found - keys.data())];
}

const Node* Node::find_key(std::string_view key) const {
  for (std::size_t i = 0; i < keys.size() && i < items.size(); ++i)
    if (keys[i].kind == NodeKind::scalar && keys[i].text == key) return &keys[i];
  return nullptr;
}

std::optional<Node> parse(const Source& source, Report& report) {
  TreeBuilder builder(source, report);
  try {
    std::istringstream stream{std::string(source.text())};
    YAML::Parser parser(stream);
    while (parser.HandleNextDocument(builder)) {
    }
  } catch (const TooMuch&) {
    return std::nullopt;
  } catch (const YAML::Exception& error) {
    report.add(source.place_of(error.mark.line, error.mark.column), "",
               "not readable as YAML: " + error.msg,
               "check indentation, colons, quotes and brackets here and just above");
    return std::nullopt;
  }
  return builder.take();
}

}  // namespace neap::settings
