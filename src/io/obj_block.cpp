// SPDX-License-Identifier: MIT
// Statements and their meaning: Wavefront "Object Files (.obj)", appendix B1 of the Advanced Visualizer manual, 3.0.
// Colours after the coordinates of `v` (3, or 4 with alpha) are common practice, not in that text.
#include "io/obj_block.hpp"

#include <algorithm>
#include <bit>
#include <limits>
#include <utility>

#include "core/text_number.hpp"
#include "io/obj_plain.hpp"
#include "io/obj_text.hpp"

namespace trimtack::obj {
namespace {

struct Parser {
  const char* p;
  const char* end;
  Block& block;
  const IndexCheck* check;
  ParseOptions options;
  DigitEnds ends;
};

std::uint64_t offset_of(const Parser& parser, const char* at) {
  return parser.block.begin + static_cast<std::uint64_t>(at - parser.block.text.data());
}

bool fail(Parser& parser, const char* at, std::string message) {
  parser.block.failure = {true, offset_of(parser, at), std::move(message)};
  return false;
}

/// The word at p, shortened, for messages.
std::string quoted(const char* p, const char* end) {
  constexpr std::ptrdiff_t kLongest = 40;
  const auto is_over = [&](const char* at) {
    return at == end || is_blank(*at) || is_line_end(*at) || continuation(at, end) != 0;
  };
  std::string text = "'";
  const char* const start = p;
  for (; p - start < kLongest && !is_over(p); ++p) text += *p >= ' ' && *p <= '~' ? *p : '?';
  return text + (is_over(p) ? "'" : "...'");
}

// --- numbers ----------------------------------------------------------------------------------------------------

bool fail_number(Parser& parser, const char* at, NumberStatus status, const char* keyword) {
  const std::string token = quoted(at, parser.end);
  const std::string what = std::string(keyword) + ": " + token;
  if (status == NumberStatus::NotFinite) {
    return fail(parser, at, what + " is not a finite number; repair this element in the program that exported it");
  }
  if (status == NumberStatus::TooLarge) {
    return fail(parser, at, what + " is larger than any double; repair this element in the program that exported it");
  }
  if (token.find(',') != std::string::npos) {
    return fail(parser, at, what + " is not a number: OBJ has decimal points, not commas; export again with points");
  }
  return fail(parser, at, what + " is not a number; the file may be damaged, export it again");
}

/// Reads the numbers of a statement up to its end. @return how many, or -1 after a failure.
template <int kMost>
int read_numbers(Parser& parser, const char* p, const char* keyword, double (&out)[kMost]) {
  int count = 0;
  for (p = skip_blanks(p, parser.end); !at_statement_end(p, parser.end); p = skip_blanks(p, parser.end)) {
    if (count == kMost) {
      fail(parser, p,
           std::string(keyword) + " has more than " + std::to_string(kMost) +
               " numbers; the file may be damaged, export it again");
      return -1;
    }
    const ParsedNumber number = parse_double(p, parser.end);
    if (number.status != NumberStatus::Ok || !at_token_end(number.end, parser.end)) {
      fail_number(parser, p, number.status, keyword);
      return -1;
    }
    out[count++] = number.value;
    p = number.end;
  }
  parser.p = *p == '#' ? line_end(p, parser.end) : p;
  return count;
}

/// Reads a plain line of as many numbers as an item has into the list. @return false: the line asks for more than this
template <class Item>
bool push_plain(Parser& parser, const char* p, Buffer<Item>& list) {
  constexpr int kNumbers = sizeof(Item) / sizeof(double);
  const char* const stop =
      read_plain_numbers<kNumbers>(parser.ends, p, parser.end, reinterpret_cast<double*>(list.room(1)));
  if (stop == nullptr) return false;
  ++list.size;
  parser.p = stop;
  return true;
}

template <class T>
void push_absent(Buffer<T>& list, const T& absent) {
  if (!list.empty()) list.push(absent);
}

template <class T>
void push_optional(Buffer<T>& list, std::size_t place, bool present, const T& value, const T& absent) {
  if (!present) return push_absent(list, absent);
  list.pad(place, absent);
  list.push(value);
}

bool read_position(Parser& parser) {
  const char* start = parser.p;
  Block& block = parser.block;
  if (push_plain(parser, start + 1, block.positions)) {
    if (parser.options.keep_text) block.position_at.push(offset_of(parser, start));
    push_absent(block.position_weights, kAbsent);
    push_absent(block.colours, kNoColour);
    push_absent(block.colour_alpha, kAbsent);
    return true;
  }
  double n[7];
  const int count = read_numbers(parser, start + 1, "v", n);
  if (count < 0) return false;
  if (count < 3 || count == 5) {
    return fail(
        parser, start,
        "v has " + std::to_string(count) + " numbers; it takes 3 coordinates, and a weight or 3 or 4 for a colour");
  }
  const std::size_t place = block.positions.size;
  if (parser.options.keep_text) block.position_at.push(offset_of(parser, start));
  block.positions.push({n[0], n[1], n[2]});
  push_optional(block.position_weights, place, count == 4, n[3], kAbsent);
  push_optional(block.colours, place, count >= 6, Vec3{n[3], n[4], n[5]}, kNoColour);
  push_optional(block.colour_alpha, place, count == 7, n[6], kAbsent);
  return true;
}

bool read_texcoord(Parser& parser) {
  const char* start = parser.p;
  Block& block = parser.block;
  if (push_plain(parser, start + 2, block.texcoords)) {
    push_absent(block.texcoord_w, kAbsent);
    return true;
  }
  double n[3] = {0, 0, 0};
  const int count = read_numbers(parser, start + 2, "vt", n);
  if (count < 0) return false;
  if (count == 0) return fail(parser, start, "vt has no numbers; it takes 1 to 3");
  const std::size_t place = block.texcoords.size;
  block.texcoords.push({n[0], n[1]});
  push_optional(block.texcoord_w, place, count == 3, n[2], kAbsent);
  return true;
}

bool read_normal(Parser& parser) {
  const char* start = parser.p;
  Block& block = parser.block;
  if (!push_plain(parser, start + 2, block.normals)) {
    double n[3];
    const int count = read_numbers(parser, start + 2, "vn", n);
    if (count < 0) return false;
    if (count != 3) return fail(parser, start, "vn has " + std::to_string(count) + " numbers; it takes 3");
    block.normals.push({n[0], n[1], n[2]});
  }
  ++block.normal_count;
  if (parser.options.leave_normals) block.normals.clear();
  return true;
}

// --- indices ----------------------------------------------------------------------------------------------------

const char* const kCountedName[] = {"position", "texture coordinate", "normal"};

std::int64_t local_count(const Block& block, Counted counted) {
  switch (counted) {
    case kPositions:
      return static_cast<std::int64_t>(block.positions.size);
    case kTexcoords:
      return static_cast<std::int64_t>(block.texcoords.size);
    case kNormals:
      break;
  }
  return static_cast<std::int64_t>(block.normal_count);
}

bool fail_range(Parser& parser, const char* at, Counted counted) {
  const std::string token = quoted(at, parser.end);
  const std::string name = kCountedName[counted];
  std::string message = "index in " + token + " names a " + name + " that does not exist";
  if (parser.check != nullptr) {
    const std::int64_t total = parser.check->total[counted];
    const std::int64_t here = parser.check->before[counted] + local_count(parser.block, counted);
    message += ": the file has " + std::to_string(total) +
               (total == 0 ? std::string() : " (1 to " + std::to_string(total) + ")") + ", " + std::to_string(here) +
               " of them above this line";
  }
  return fail(parser, at, message + "; the file may be cut off or damaged, export it again");
}

/// Stores an index as read. Returns false after a failure. `token` is the whole corner.
bool store_index(Parser& parser, const char* token, IndexList list, bool negative, std::uint64_t value) {
  if (value == 0) {
    return fail(parser, token,
                "index 0 in " + quoted(token, parser.end) + ": OBJ counts from 1; export the file again");
  }
  Block& block = parser.block;
  const Counted counted = kCountedBy[list];
  Buffer<Index>& items = block.lists[list];
  if (!negative) {
    const auto index = static_cast<std::int64_t>(value - 1);
    block.largest[counted] = std::max(block.largest[counted], index);
    if (parser.check != nullptr && index >= parser.check->total[counted]) return fail_range(parser, token, counted);
    items.push(static_cast<Index>(index));
    return true;
  }
  const std::int64_t index = local_count(block, counted) - static_cast<std::int64_t>(value);
  block.lowest[counted] = std::min(block.lowest[counted], index);
  if (value > static_cast<std::uint64_t>(std::numeric_limits<std::int32_t>::max()) ||
      (parser.check != nullptr && parser.check->before[counted] + index < 0)) {
    return fail_range(parser, token, counted);
  }
  block.relative[list].push(static_cast<Index>(items.size));
  items.push(static_cast<Index>(static_cast<std::int32_t>(index)));
  return true;
}

/// Digits at p. More than 32 bits hold becomes the largest value, which is out of range whatever the file has.
const char* read_whole(const Parser& parser, const char* p, std::uint64_t& value) {
  value = 0;
  const char* const digits = p;
  p = detail::read_digits(p, parser.end, value);
  if (p - digits > 10 || value > kNone) {
    value = 0;
    for (p = digits; detail::is_digit(*p); ++p) {
      value = std::min<std::uint64_t>(value * 10 + static_cast<std::uint64_t>(*p - '0'), kNone);
    }
  }
  return p;
}

/// Reads one index at p into `list`. @return where it ends, or null after a failure.
const char* read_index(Parser& parser, const char* p, const char* token, IndexList list) {
  const bool negative = *p == '-';
  if (negative || *p == '+') ++p;
  std::uint64_t value = 0;
  const char* const end = read_whole(parser, p, value);
  if (end == p) {
    fail(parser, token, "index expected in " + quoted(token, parser.end) + "; a corner is v, v/vt, v//vn or v/vt/vn");
    return nullptr;
  }
  return store_index(parser, token, list, negative, value) ? end : nullptr;
}

/// An index that may be missing ("1//3", "1/"): the list stays as long as the corners, unless it is still unused.
const char* read_optional_index(Parser& parser, const char* p, const char* token, IndexList list, std::size_t place) {
  Buffer<Index>& items = parser.block.lists[list];
  if (*p == '/' || at_token_end(p, parser.end)) {
    if (!items.empty()) items.push(kNone);
    return p;
  }
  items.pad(place, kNone);
  return read_index(parser, p, token, list);
}

void skip_optional_index(Parser& parser, IndexList list) {
  Buffer<Index>& items = parser.block.lists[list];
  if (!items.empty()) items.push(kNone);
}

/// Reads v, v/vt, v//vn or v/vt/vn at p. @return where it ends, or null after a failure.
const char* read_corner(Parser& parser, const char* p) {
  const char* const token = p;
  const std::size_t place = parser.block.lists[kCornerPosition].size;
  p = read_index(parser, p, token, kCornerPosition);
  if (p == nullptr) return nullptr;
  if (*p != '/') {
    skip_optional_index(parser, kCornerTexcoord);
    skip_optional_index(parser, kCornerNormal);
  } else {
    p = read_optional_index(parser, p + 1, token, kCornerTexcoord, place);
    if (p == nullptr) return nullptr;
    if (*p != '/') {
      skip_optional_index(parser, kCornerNormal);
    } else {
      p = read_optional_index(parser, p + 1, token, kCornerNormal, place);
      if (p == nullptr) return nullptr;
    }
  }
  if (at_token_end(p, parser.end)) return p;
  fail(parser, token, quoted(token, parser.end) + " is not a corner; it takes v, v/vt, v//vn or v/vt/vn");
  return nullptr;
}

bool read_face(Parser& parser, const char* p) {
  const char* const start = parser.p;
  Buffer<Index>& corners = parser.block.lists[kCornerPosition];
  const std::size_t first = corners.size;
  if (parser.check == nullptr) p = read_plain_corners(parser.ends, p, parser.end, parser.block);
  for (p = skip_blanks(p, parser.end); !at_statement_end(p, parser.end); p = skip_blanks(p, parser.end)) {
    p = read_corner(parser, p);
    if (p == nullptr) return false;
  }
  parser.p = *p == '#' ? line_end(p, parser.end) : p;
  if (corners.size - first < 3) {
    return fail(parser, start,
                "face with " + std::to_string(corners.size - first) +
                    " corners; it takes at least 3, delete it in the program that exported it");
  }
  parser.block.face_ends.push(static_cast<Index>(corners.size));
  return true;
}

bool read_loose(Parser& parser, ElementKind kind) {
  const char* const start = parser.p;
  Block& block = parser.block;
  Buffer<Index>& vertices = block.lists[kLooseVertex];
  const std::size_t first = vertices.size;
  const char* p = skip_blanks(start + 1, parser.end);
  for (; !at_statement_end(p, parser.end); p = skip_blanks(p, parser.end)) {
    const char* const token = p;
    const std::size_t place = vertices.size;
    p = read_index(parser, p, token, kLooseVertex);
    if (p == nullptr) return false;
    if (*p == '/') {
      p = read_optional_index(parser, p + 1, token, kLooseTexcoord, place);
      if (p == nullptr) return false;
    } else {
      skip_optional_index(parser, kLooseTexcoord);
    }
    if (!at_token_end(p, parser.end)) return fail(parser, token, quoted(token, parser.end) + " is not v or v/vt");
  }
  parser.p = *p == '#' ? line_end(p, parser.end) : p;
  if (vertices.size == first) {
    return fail(parser, start, std::string(kind == ElementKind::Line ? "line" : "point") + " element without vertices");
  }
  block.loose.push_back({kind, static_cast<Index>(first), static_cast<Index>(vertices.size - first),
                         static_cast<Index>(block.face_ends.size)});
  return true;
}

// --- statements -------------------------------------------------------------------------------------------------

bool read_event(Parser& parser, Event kind, const char* rest) {
  const char* stop = statement_end(rest, parser.end, false);
  parser.block.events.push_back({kind, static_cast<Index>(parser.block.face_ends.size),
                                 static_cast<Index>(parser.block.loose.size()),
                                 std::string_view(rest, static_cast<std::size_t>(stop - rest))});
  parser.p = stop;
  return true;
}

bool any_of(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

bool read_other(Parser& parser, std::string_view word, const char* after) {
  if (word == "usemtl") return read_event(parser, Event::Material, after);
  if (word == "mtllib") return read_event(parser, Event::Library, after);
  if (word == "fo") return read_face(parser, after);
  if (word == "call" || word == "csh") {
    return fail(parser, parser.p,
                std::string(word) +
                    " asks to run another file or a command; trimtack never does, "
                    "delete the line or export the garment as one file");
  }
  LeftOut kind = kUnknown;
  if (any_of(word, {"vp",   "cstype", "deg", "bmat", "step", "curv", "curv2", "surf", "parm", "trim",
                    "hole", "scrv",   "sp",  "end",  "con",  "bzp",  "bsp",   "res",  "cdc",  "cdp"})) {
    kind = kFreeForm;
  } else if (any_of(word, {"bevel", "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", "ctech", "stech", "mg",
                           "maplib", "usemap"})) {
    kind = kDisplay;
  }
  LeftOutCount& count = parser.block.left_out[kind];
  if (count.count++ == 0) {
    count.first_at = offset_of(parser, parser.p);
    count.keyword = quoted(parser.p, parser.end);
  }
  parser.p = statement_end(after, parser.end, true);
  return true;
}

/// The keyword at p.
std::string_view word_at(const char* p, const char* end) {
  const char* after = p;
  while (!at_token_end(after, end)) ++after;
  return {p, static_cast<std::size_t>(after - p)};
}

/// One statement, at its keyword.
bool read_statement(Parser& parser) {
  const char* const start = parser.p;
  if (*start == 'v') {
    if (start[1] == ' ' || start[1] == '\t') return read_position(parser);
    if (start[1] == 't' && at_token_end(start + 2, parser.end)) return read_texcoord(parser);
    if (start[1] == 'n' && at_token_end(start + 2, parser.end)) return read_normal(parser);
  }
  if (*start == 'f' && is_blank(start[1])) return read_face(parser, start + 1);
  const std::string_view word = word_at(start, parser.end);
  const char* const after = start + word.size();
  if (word.size() == 1) {
    switch (*start) {
      case 'v':
        return read_position(parser);
      case 'f':
        return read_face(parser, after);
      case 'l':
        return read_loose(parser, ElementKind::Line);
      case 'p':
        return read_loose(parser, ElementKind::Point);
      case 'o':
        return read_event(parser, Event::Object, after);
      case 'g':
        return read_event(parser, Event::Group, after);
      case 's':
        return read_event(parser, Event::Smoothing, after);
      default:
        break;
    }
  }
  return read_other(parser, word, after);
}

/// The next keyword: blanks, line ends, comments and continuations are passed over.
const char* skip_between(const char* p, const char* end) {
  while (p != end) {
    if (is_line_end(*p) || is_blank(*p)) {
      ++p;
    } else if (*p == '#') {
      p = line_end(p, end);
    } else if (const std::size_t continued = continuation(p, end)) {
      p += continued;
    } else {
      break;
    }
  }
  return p;
}

/// Whether the statement at p, which begins with 'v', may be one of plain lines (TextBlock). @param before  the end of
/// the statement before, or the text's begin; an empty line between the two would have to be kept with them
bool begins_plain_line(const char* p, const char* before, std::string_view text) {
  if ((p != text.data() && p[-1] != '\n') || p - before == 2) return false;
  return p[1] == ' ' || ((p[1] == 't' || p[1] == 'n') && is_blank(p[2]));
}

}  // namespace

std::string name_from(std::string_view raw) {
  std::string name;
  name.reserve(raw.size());
  const char* const end = raw.data() + raw.size();
  for (const char* p = raw.data(); p != end;) {
    // A backslash that is the last character continues nothing; inside, it does only before a line end.
    const std::size_t length = *p == '\\' && p + 1 != end ? continuation(p, end) : 0;
    name += length == 0 ? *p : ' ';
    p += length == 0 ? 1 : length;
  }
  std::size_t first = 0;
  std::size_t last = name.size();
  while (first != last && is_blank(name[first])) ++first;
  while (first != last && is_blank(name[last - 1])) --last;
  return name.substr(first, last - first);
}

void reset(Block& block, std::uint64_t begin, std::uint64_t end) {
  block.begin = begin;
  block.end = end;
  block.read = {};
  for (Buffer<Vec3>* list : {&block.positions, &block.colours, &block.normals}) list->clear();
  for (Buffer<double>* list : {&block.position_weights, &block.colour_alpha, &block.texcoord_w}) list->clear();
  block.position_at.clear();
  for (Buffer<Index>& list : block.lists) list.clear();
  for (Buffer<Index>& list : block.relative) list.clear();
  block.texcoords.clear();
  block.normal_count = 0;
  block.face_ends.clear();
  block.largest = {-1, -1, -1};
  block.lowest = {0, 0, 0};
  block.loose.clear();
  block.events.clear();
  block.left_out = {};
  block.statements = 0;
  block.plain_lines = true;
  block.failure = {};
}

void parse_block(const ParseOptions& options, const IndexCheck* check, Block& block) {
  const char* const begin = block.text.data();
  Parser parser{begin, begin + block.text.size(), block, check, options, {begin, 0}};
  for (const char* before = begin; (parser.p = skip_between(parser.p, parser.end)) != parser.end; before = parser.p) {
    ++block.statements;
    if (*parser.p == 'v' && !begins_plain_line(parser.p, before, block.text)) block.plain_lines = false;
    if (options.positions_only && (*parser.p != 'v' || !at_token_end(parser.p + 1, parser.end))) {
      parser.p = statement_end(parser.p, parser.end, true);
      continue;
    }
    if (!read_statement(parser)) return;
  }
  if (block.positions.empty() && block.texcoords.empty() && block.normal_count == 0) return;
  const auto lacks = [&](char c) { return block.text.find(c) == std::string_view::npos; };
  constexpr std::size_t kLargest = std::numeric_limits<std::uint32_t>::max();  // that find_line_runs() can tell of
  block.plain_lines = block.plain_lines && block.text.size() <= kLargest && lacks('\\') && lacks('\r');
}

Statement next_statement(const char* p, const char* end) {
  p = skip_between(p, end);
  if (p == end) return {};
  // Names may hold a '#'.
  const bool number = *p == 'v' || *p == 'f';
  const std::string_view word = number ? std::string_view() : word_at(p, end);
  return {p, statement_end(p, end, number || !any_of(word, {"o", "g", "s", "usemtl", "mtllib"}))};
}

}  // namespace trimtack::obj
