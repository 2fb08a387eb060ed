// SPDX-License-Identifier: MIT
/// The lexical rules of OBJ text, shared by reader and writer.
/// A line ends at LF, CR LF or CR. A backslash right before a line end continues the statement and counts as a blank;
/// a comment is not continued. Every pointer range here is followed by a readable zero byte.
#pragma once

#include <array>
#include <cstddef>
#include <cstring>
#include <string>
#include <string_view>

namespace trimtack::obj {

enum CharClass : unsigned char { kOther = 0, kBlank = 1, kLineEnd = 2, kComment = 4 };

inline constexpr auto kCharClass = [] {
  std::array<unsigned char, 256> table{};
  for (const char c : {' ', '\t', '\v', '\f'}) table[static_cast<unsigned char>(c)] = kBlank;
  for (const char c : {'\n', '\r'}) table[static_cast<unsigned char>(c)] = kLineEnd;
  table[static_cast<unsigned char>('#')] = kComment;
  return table;
}();

inline unsigned char class_of(char c) { return kCharClass[static_cast<unsigned char>(c)]; }
inline bool is_line_end(char c) { return class_of(c) == kLineEnd; }
inline bool is_blank(char c) { return class_of(c) == kBlank; }

/// Length of the continuation at p (2 or 3), 0 when there is none.
inline std::size_t continuation(const char* p, const char* end) {
  if (p == end || *p != '\\') return 0;
  if (p[1] == '\r') return p[2] == '\n' ? 3 : 2;
  return p[1] == '\n' ? 2 : 0;
}

/// Next character that is neither blank nor part of a continuation; stops at line ends and at `end`.
inline const char* skip_blanks(const char* p, const char* end) {
  for (;;) {
    if (is_blank(*p)) {
      ++p;
      continue;
    }
    const std::size_t length = continuation(p, end);
    if (length == 0) return p;
    p += length;
  }
}

inline bool at_statement_end(const char* p, const char* end) {
  return (class_of(*p) & (kLineEnd | kComment)) != 0 || p == end;
}

/// May a number end here?
inline bool at_token_end(const char* p, const char* end) {
  return class_of(*p) != kOther || p == end || continuation(p, end) != 0;
}

/// The next line end at or after p, continued or not; `end` when there is none.
inline const char* line_end(const char* p, const char* end) {
  const void* lf = std::memchr(p, '\n', static_cast<std::size_t>(end - p));
  const char* stop = lf == nullptr ? end : static_cast<const char*>(lf);
  const void* cr = std::memchr(p, '\r', static_cast<std::size_t>(stop - p));
  return cr == nullptr ? stop : static_cast<const char*>(cr);
}

/// The line end that ends the statement whose text starts at p: continuations are passed over. With `comments`, a '#'
/// starts a comment, which is not continued.
inline const char* statement_end(const char* p, const char* end, bool comments) {
  for (const char* from = p;;) {
    const char* stop = line_end(from, end);
    if (stop == end || stop == from || stop[-1] != '\\') return stop;
    if (comments && std::memchr(from, '#', static_cast<std::size_t>(stop - from)) != nullptr) return stop;
    from = stop - 1 + continuation(stop - 1, end);
  }
}

/// The rest of a statement as a name: trimmed, continuations turned into one blank each.
std::string name_from(std::string_view raw);

}  // namespace trimtack::obj
