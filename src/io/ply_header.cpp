// SPDX-License-Identifier: MIT
// Turk 1994, "The PLY Polygon File Format" (the text shipped with the first PLY tools); the later type names (int32,
// float64, ...) are common practice.
#include "io/ply_header.hpp"

#include <charconv>
#include <optional>
#include <utility>

namespace trimtack::ply {
namespace {

constexpr std::size_t kHeaderLimit = std::size_t{1} << 20;
constexpr std::size_t kElementLimit = 64, kPropertyLimit = 1024;

std::optional<Type> type_named(std::string_view name) {
  static constexpr std::array<std::array<std::string_view, 2>, 8> kNames{{{"char", "int8"},
                                                                          {"uchar", "uint8"},
                                                                          {"short", "int16"},
                                                                          {"ushort", "uint16"},
                                                                          {"int", "int32"},
                                                                          {"uint", "uint32"},
                                                                          {"float", "float32"},
                                                                          {"double", "float64"}}};
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    if (name == kNames[i][0] || name == kNames[i][1]) return static_cast<Type>(i);
  }
  return std::nullopt;
}

class HeaderReader {
 public:
  HeaderReader(std::string_view bytes, const std::string& file) : bytes_(bytes), file_(file) {}

  Result<Header> read() {
    if (!next_line() || words_.size() != 1 || words_[0] != "ply")
      return wrong("is not a PLY file: its first line is not 'ply'");
    bool has_format = false;
    while (true) {
      if (!next_line()) return wrong("the header does not end: 'end_header' is missing");
      if (words_.empty() || words_[0] == "comment" || words_[0] == "obj_info") continue;
      if (words_[0] == "end_header") break;
      std::string message;
      if (words_[0] == "format" && !has_format) {
        has_format = true;
        message = read_format();
      } else if (words_[0] == "element") {
        message = read_element();
      } else if (words_[0] == "property") {
        message = read_property();
      } else {
        message = "unexpected header line '" + std::string(words_[0].substr(0, 40)) + "'";
      }
      if (!message.empty()) return wrong(message);
    }
    if (!has_format) return wrong("the header has no 'format' line");
    header_.data_offset = at_;
    header_.lines = line_;
    return std::move(header_);
  }

 private:
  Error wrong(std::string message) const { return bad_ply(file_, line_, std::move(message)); }

  bool next_line() {
    const std::size_t end = bytes_.substr(0, kHeaderLimit).find('\n', at_);
    if (end == std::string_view::npos) return false;
    std::string_view text = bytes_.substr(at_, end - at_);
    if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    at_ = end + 1;
    ++line_;
    words_.clear();
    for (std::size_t i = 0; i < text.size() && words_.size() < 8;) {
      const std::size_t first = text.find_first_not_of(" \t", i);
      if (first == std::string_view::npos) break;
      i = std::min(text.find_first_of(" \t", first), text.size());
      words_.push_back(text.substr(first, i - first));
    }
    return true;
  }

  std::string read_format() {
    if (words_.size() != 3 || words_[2] != "1.0") return "only 'format NAME 1.0' is known";
    if (words_[1] == "ascii") {
      header_.format = Format::Ascii;
    } else if (words_[1] == "binary_little_endian") {
      header_.format = Format::Little;
    } else if (words_[1] == "binary_big_endian") {
      header_.format = Format::Big;
    } else {
      return "unknown format '" + std::string(words_[1].substr(0, 40)) + "'";
    }
    return {};
  }

  std::string read_element() {
    if (words_.size() != 3) return "an element line needs a name and a count";
    if (header_.elements.size() == kElementLimit) return "the header has more than 64 elements";
    Element element;
    element.name = words_[1];
    const char* end = words_[2].data() + words_[2].size();
    const auto parsed = std::from_chars(words_[2].data(), end, element.count);
    if (parsed.ec != std::errc{} || parsed.ptr != end) return "the element's count is not a number";
    for (const Element& known : header_.elements) {
      if (known.name == element.name) return "element '" + element.name.substr(0, 40) + "' is listed twice";
    }
    header_.elements.push_back(std::move(element));
    return {};
  }

  std::string read_property() {
    if (header_.elements.empty()) return "a property stands before the first element";
    std::vector<Property>& properties = header_.elements.back().properties;
    if (properties.size() == kPropertyLimit) return "an element has more than 1024 properties";
    Property property;
    property.list = words_.size() > 1 && words_[1] == "list";
    if (words_.size() != (property.list ? 5U : 3U)) return "the property line cannot be read";
    const std::optional<Type> type = type_named(words_[property.list ? 3 : 1]);
    const std::optional<Type> count = property.list ? type_named(words_[2]) : Type::U8;
    if (!type || !count || *count >= Type::F32) return "the property has an unknown type";
    property.type = *type;
    property.count_type = *count;
    property.name = words_.back();
    for (const Property& known : properties) {
      if (known.name == property.name) return "property '" + property.name.substr(0, 40) + "' is listed twice";
    }
    properties.push_back(std::move(property));
    return {};
  }

  std::string_view bytes_;
  const std::string& file_;
  std::size_t at_ = 0;
  std::uint64_t line_ = 0;
  std::vector<std::string_view> words_;
  Header header_;
};

}  // namespace

Result<Header> read_header(std::string_view bytes, const std::string& file) { return HeaderReader(bytes, file).read(); }

}  // namespace trimtack::ply
