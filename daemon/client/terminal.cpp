#include "daemon/client/terminal.h"

#define NCURSES_NOMACROS  // functions only: its macros are called move, erase, timeout
#include <curses.h>
#include <poll.h>
#include <unistd.h>

#include <clocale>
#include <cstdio>
#include <cstdlib>

#include "daemon/client/failure.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr int kTab = '\t';

// Characters only: a decimal comma would get into every figure.
void choose_characters(bool utf8) {
  if (!utf8)
    std::setlocale(LC_CTYPE, "C");
  else if (std::setlocale(LC_CTYPE, "") == nullptr)
    std::setlocale(LC_CTYPE, "C.UTF-8");  // the locale of the environment is not installed here
}

Pressed pressed(int code) {
  switch (code) {
    case KEY_UP:
    case 'k':
      return {KeyKind::up};
    case KEY_DOWN:
    case 'j':
      return {KeyKind::down};
    case KEY_PPAGE:
      return {KeyKind::page_up};
    case KEY_NPAGE:
    case ' ':
      return {KeyKind::page_down};
    case KEY_HOME:
      return {KeyKind::home};
    case kTab:
    case KEY_RIGHT:
      return {KeyKind::next};
    case KEY_BTAB:
    case KEY_LEFT:
      return {KeyKind::previous};
    default:
      return {KeyKind::other, code > 0 && code < 128 ? static_cast<char>(code) : '\0'};
  }
}

}  // namespace

struct Terminal::Curses {
  SCREEN* screen = nullptr;
  bool color = false;

  attr_t attribute_of(Tone tone) const {
    const auto pair = [&](Tone of) { return color ? COLOR_PAIR(static_cast<int>(of)) : A_NORMAL; };
    switch (tone) {
      case Tone::plain:
        return A_NORMAL;
      case Tone::good:
      case Tone::warning:
        return pair(tone);
      case Tone::bad:
        return pair(tone) | A_BOLD;
      case Tone::quiet:
        return color ? A_DIM : A_NORMAL;
      case Tone::strong:
        return A_BOLD;
    }
    return A_NORMAL;
  }
};

Terminal::Terminal(bool utf8, bool color) : curses_(std::make_unique<Curses>()) {
  choose_characters(utf8);
  const char* name = std::getenv("TERM");
  const std::string term = words::printable(name == nullptr ? "" : name);
  const auto fail = [&](const std::string& what) {
    throw Failure(kExitFailed, "TERM is \"" + term + "\", " + what,
                  "set it to what the terminal is, such as TERM=xterm; `neap status` shows the "
                  "same once, on any terminal");
  };
  curses_->screen = ::newterm(nullptr, stdout, stdin);
  if (curses_->screen == nullptr) fail("which this machine does not know");
  if (::tigetstr("cup") == nullptr) {  // what moves the cursor
    ::endwin();
    ::delscreen(curses_->screen);
    fail("which cannot be painted on");
  }
  curses_->color = color && ::has_colors() && ::start_color() == OK && ::use_default_colors() == OK;
  if (curses_->color) {
    constexpr short kOwn = -1;  // background of the terminal's own, as use_default_colors() has it
    ::init_pair(static_cast<short>(Tone::good), COLOR_GREEN, kOwn);
    ::init_pair(static_cast<short>(Tone::warning), COLOR_YELLOW, kOwn);
    ::init_pair(static_cast<short>(Tone::bad), COLOR_RED, kOwn);
  }
  constexpr int kEscapeMs = 50;  // a key's sequence is together by then, over a slow link too
  ::set_escdelay(kEscapeMs);
  ::cbreak();
  ::noecho();
  ::nonl();
  ::keypad(stdscr, TRUE);
  ::nodelay(stdscr, TRUE);
  ::curs_set(0);
}

Terminal::~Terminal() {
  ::endwin();
  ::delscreen(curses_->screen);
}

Terminal::Size Terminal::size() const {
  return {static_cast<std::size_t>(::getmaxx(stdscr)), static_cast<std::size_t>(::getmaxy(stdscr))};
}

void Terminal::paint(const Screen& screen) {
  ::werase(stdscr);
  for (std::size_t y = 0; y < screen.lines.size(); ++y) {
    ::wmove(stdscr, static_cast<int>(y), 0);
    for (const Toned& each : screen.lines[y]) {
      ::wattrset(stdscr, static_cast<int>(curses_->attribute_of(each.tone)));
      ::waddstr(stdscr, each.text.c_str());
    }
  }
  ::wattrset(stdscr, A_NORMAL);
  ::wrefresh(stdscr);
}

std::optional<Pressed> Terminal::key(Millis patience) {
  // A key that was read ahead by curses is not seen by poll().
  int code = ::wgetch(stdscr);
  if (code == ERR) {
    pollfd item{STDIN_FILENO, POLLIN, 0};
    const int ready = ::poll(&item, 1, static_cast<int>(patience.count()));
    if (ready > 0 && (item.revents & POLLIN) == 0) return Pressed{KeyKind::ended};
    code = ::wgetch(stdscr);
    if (code == ERR && ready > 0) return Pressed{KeyKind::ended};  // end of file
  }
  if (code == ERR || code == KEY_RESIZE) return std::nullopt;
  return pressed(code);
}

}  // namespace neap::client
