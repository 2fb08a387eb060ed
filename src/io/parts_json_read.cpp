// SPDX-License-Identifier: MIT
// Events of the JSON parser (no document tree: a hostile file costs no more than its length), dispatched by the
// grammar in parts_json_fields.hpp.
#include "io/parts_json_read.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "io/parts_json_fields.hpp"

namespace trimtack::parts_json {
namespace {

constexpr std::size_t kDeepest = 24;

struct Scalar {
  enum class Kind : std::uint8_t { Null, Flag, Negative, Whole, Real, Text } kind = Kind::Null;
  bool flag = false;
  std::uint64_t whole = 0;
  double real = 0;
  const std::string* text = nullptr;
};

struct Frame {
  Field field = Field::Skip;
  bool is_array = false;
  Field child = Field::Skip;  ///< of an array: its items; of an object: the field of the current key
  std::size_t index = 0;      ///< of an array: the current item
  std::string_view key;       ///< of an object: the current key
  std::string unknown_key;    ///< where that is one that the grammar lacks
  std::uint32_t seen = 0;     ///< of an object: bit k set when its k-th key was read
};

const FieldRules& rules_of(Field field) { return kRules[static_cast<std::size_t>(field)]; }

const char* shape_text(Shape shape) {
  static constexpr const char* kTexts[] = {
      "an object", "a list", "a text", "a number", "a whole number below 4294967295", "an id or null", "true or false"};
  return kTexts[static_cast<std::size_t>(shape)];
}

class Reader {
 public:
  using number_integer_t = nlohmann::json::number_integer_t;
  using number_unsigned_t = nlohmann::json::number_unsigned_t;
  using number_float_t = nlohmann::json::number_float_t;
  using string_t = nlohmann::json::string_t;
  using binary_t = nlohmann::json::binary_t;

  explicit Reader(const std::string& file) : file_(file) { stack_.reserve(kDeepest); }

  bool null() { return scalar({}); }
  bool boolean(bool value) { return scalar({Scalar::Kind::Flag, value, 0, 0, nullptr}); }
  bool number_integer(number_integer_t value) {
    return scalar({Scalar::Kind::Negative, false, 0, static_cast<double>(value), nullptr});
  }
  bool number_unsigned(number_unsigned_t value) {
    return scalar({Scalar::Kind::Whole, false, value, static_cast<double>(value), nullptr});
  }
  bool number_float(number_float_t value, const string_t&) {
    return scalar({Scalar::Kind::Real, false, 0, value, nullptr});
  }
  bool string(string_t& value) { return scalar({Scalar::Kind::Text, false, 0, 0, &value}); }
  bool binary(binary_t&) { return false; }
  bool start_object(std::size_t) { return open(false); }
  bool end_object();
  bool start_array(std::size_t) { return open(true); }
  bool end_array();
  bool key(string_t& name);
  bool parse_error(std::size_t position, const std::string&, const nlohmann::detail::exception& error);

  std::optional<Error> error;
  Raw raw;

 private:
  bool open(bool is_array);
  bool scalar(const Scalar& value);
  bool store(Field field, const Scalar& value);
  bool store_number(Field field, double value);
  bool store_id(Field field, Index value);
  bool store_text(Field field, const std::string& text);
  void begin(Field field);
  bool fail(const std::string& what);
  std::string path() const;
  Field next_field() const { return stack_.empty() ? Field::Root : stack_.back().child; }
  void advance() {
    if (!stack_.empty() && stack_.back().is_array) ++stack_.back().index;
  }
  Component& component() { return raw.parts.components.back(); }
  Trim& trim() { return raw.parts.trims.back(); }
  Prototype& prototype() { return raw.parts.prototypes.back(); }
  Row& row() { return raw.parts.rows.back(); }
  SpanningElement& span() { return raw.spanning.back(); }

  const std::string& file_;
  std::vector<Frame> stack_;  ///< never moved: frames hold views of their own texts
  std::vector<IndexRange>* ranges_ = nullptr;
  std::size_t map_ = 0;  ///< 0 cloth, 1 trims, 2 stitching
  IndexRange range_;
};

std::string Reader::path() const {
  std::string text;
  for (const Frame& frame : stack_) {
    if (frame.is_array) {
      text += "[" + std::to_string(frame.index) + "]";
    } else if (!frame.key.empty()) {
      text += (text.empty() ? "" : ".") + std::string(frame.key.substr(0, 80));
    }
  }
  return text.empty() ? "the file" : text;
}

bool Reader::fail(const std::string& what) {
  error = Error{ErrorCode::BadInput, path() + " " + what, file_, 0};
  return false;
}

bool Reader::parse_error(std::size_t position, const std::string&, const nlohmann::detail::exception&) {
  error = Error{ErrorCode::BadInput,
                "not valid JSON at byte " + std::to_string(position) + ", in " + path() +
                    "; undo the last edit there or write the file again",
                file_, 0};
  return false;
}

bool Reader::key(string_t& name) {
  Frame& frame = stack_.back();
  const FieldRules& rules = rules_of(frame.field);
  for (unsigned k = 0; k < rules.key_count; ++k) {
    const KeyRule& rule = kKeys[rules.first_key + k];
    if (rule.key != name) continue;
    frame.key = rule.key;
    if ((frame.seen >> k & 1U) != 0) return fail("stands here twice; remove one");
    frame.seen |= 1U << k;
    frame.child = rule.child;
    return true;
  }
  frame.unknown_key = name;
  frame.key = frame.unknown_key;
  frame.child = Field::Skip;
  return true;
}

bool Reader::open(bool is_array) {
  if (stack_.size() >= kDeepest) return fail("is nested too deep");
  const Field field = next_field();
  Frame frame;
  frame.is_array = is_array;
  frame.field = field;
  if (field != Field::Skip) {
    const FieldRules& rules = rules_of(field);
    if (rules.shape != (is_array ? Shape::Array : Shape::Object))
      return fail(std::string("must be ") + shape_text(rules.shape));
    frame.child = rules.item;
    begin(field);
  }
  stack_.push_back(std::move(frame));
  return true;
}

/// A new item begins, or a list of ranges.
void Reader::begin(Field field) {
  const auto map_list = [&](std::size_t k) { ranges_ = &raw.maps[map_][k]; };
  switch (field) {
    case Field::Component:
      raw.parts.components.emplace_back();
      break;
    case Field::Trim:
      raw.parts.trims.emplace_back();
      break;
    case Field::Prototype:
      raw.parts.prototypes.emplace_back();
      break;
    case Field::Row:
      raw.parts.rows.emplace_back();
      break;
    case Field::Span:
      raw.spanning.emplace_back();
      break;
    case Field::ComponentFaces:
      ranges_ = &component().faces;
      break;
    case Field::ComponentVertices:
      ranges_ = &component().vertices;
      break;
    case Field::Map:
      map_ = stack_.back().key == "cloth" ? 0 : (stack_.back().key == "trims" ? 1 : 2);
      break;
    case Field::MapVertices:
      map_list(0);
      break;
    case Field::MapTexcoords:
      map_list(1);
      break;
    case Field::MapNormals:
      map_list(2);
      break;
    case Field::MapFaces:
      map_list(3);
      break;
    case Field::MapLoose:
      map_list(4);
      break;
    default:
      break;
  }
}

bool Reader::end_object() {
  const FieldRules& rules = rules_of(stack_.back().field);
  const std::uint32_t seen = stack_.back().seen;
  stack_.pop_back();
  for (unsigned k = 0; k < rules.key_count; ++k) {
    const KeyRule& rule = kKeys[rules.first_key + k];
    if (rule.required && (seen >> k & 1U) == 0) return fail("lacks \"" + std::string(rule.key) + "\"");
  }
  advance();
  return true;
}

bool Reader::end_array() {
  const Field field = stack_.back().field;
  const std::size_t items = stack_.back().index;
  stack_.pop_back();
  const auto exactly = [&](std::size_t count) {
    return items == count || fail("must hold " + std::to_string(count) + " items");
  };
  switch (field) {
    case Field::Range:
      if (!exactly(2)) return false;
      if (range_.first >= range_.end) return fail("must be [first, end) with first below end");
      if (!ranges_->empty() && range_.first < ranges_->back().end) return fail("must begin after the range before it");
      ranges_->push_back(range_);
      break;
    case Field::TrimTranslation:
    case Field::TrimRotation:
    case Field::TrimRotationRow:
    case Field::PrototypeSize:
      if (!exactly(3)) return false;
      break;
    default:
      break;
  }
  advance();
  return true;
}

bool Reader::scalar(const Scalar& value) {
  const Field field = next_field();
  if (field != Field::Skip && !store(field, value)) return false;
  advance();
  return true;
}

bool Reader::store(Field field, const Scalar& value) {
  const Shape shape = rules_of(field).shape;
  const auto wrong = [&] { return fail(std::string("must be ") + shape_text(shape)); };
  switch (shape) {
    case Shape::Text:
      return value.kind == Scalar::Kind::Text ? store_text(field, *value.text) : wrong();
    case Shape::Number: {
      const bool number =
          value.kind == Scalar::Kind::Negative || value.kind == Scalar::Kind::Whole || value.kind == Scalar::Kind::Real;
      return number ? store_number(field, value.real) : wrong();
    }
    case Shape::Id:
      if (value.kind == Scalar::Kind::Null) return store_id(field, kNone);
      [[fallthrough]];
    case Shape::Whole:
      if (value.kind != Scalar::Kind::Whole || value.whole >= kNone) return wrong();
      return store_id(field, static_cast<Index>(value.whole));
    case Shape::Flag:
      if (value.kind != Scalar::Kind::Flag) return wrong();
      (field == Field::TrimMirrored ? trim().mirrored : component().uncertain) = value.flag;
      return true;
    default:
      return wrong();
  }
}

bool Reader::store_number(Field field, double value) {
  const std::size_t i = stack_.back().index;
  const auto axis = [&](Vec3& p) {
    if (i < 3) p[static_cast<int>(i)] = value;
  };
  switch (field) {
    case Field::SourceMm:
      if (!(value > 0)) return fail("must be above zero");
      raw.parts.unit.mm_per_unit = value;
      break;
    case Field::SourceConfidence:
      raw.parts.unit.confidence = value;
      break;
    case Field::ComponentConfidence:
      component().confidence = value;
      break;
    case Field::TrimScale:
      trim().scale = value;
      break;
    case Field::TrimTranslationNumber:
      axis(trim().placement.translation);
      break;
    case Field::TrimRotationNumber: {
      const std::size_t r = stack_[stack_.size() - 2].index;
      if (r < 3 && i < 3) trim().placement.rotation.m[3 * r + i] = value;
      break;
    }
    case Field::PrototypeSizeNumber:
      axis(prototype().size);
      break;
    case Field::PrototypeTradeConfidence:
      prototype().trade_confidence = value;
      break;
    case Field::PrototypeResidual:
      prototype().residual = value;
      break;
    case Field::RowPitch:
      row().pitch = value;
      break;
    default:
      break;
  }
  return true;
}

bool Reader::store_id(Field field, Index value) {
  const auto in_order = [&](std::size_t count) {
    return value + std::size_t{1} == count ||
           fail("must be " + std::to_string(count - 1) + ": items stand in the order of their ids");
  };
  switch (field) {
    case Field::Version:
      return value == 1 || fail("is a version that this program does not know; it knows 1");
    case Field::SourceFaces:
      raw.parts.source_faces = value;
      break;
    case Field::SourceVertices:
      raw.parts.source_vertices = value;
      break;
    case Field::SourceDouble:
      raw.parts.doubled_vertices.push_back(value);
      break;
    case Field::ComponentId:
      return in_order(raw.parts.components.size());
    case Field::ComponentTrim:
      component().trim = value;
      break;
    case Field::TrimId:
      return in_order(raw.parts.trims.size());
    case Field::TrimComponent:
      trim().components.push_back(value);
      break;
    case Field::TrimPrototype:
      trim().prototype = value;
      break;
    case Field::TrimRow:
      trim().row = value;
      break;
    case Field::PrototypeId:
      return in_order(raw.parts.prototypes.size());
    case Field::PrototypeTrim:
      prototype().trim = value;
      break;
    case Field::PrototypeCount:
      prototype().count = value;
      break;
    case Field::RowId:
      return in_order(raw.parts.rows.size());
    case Field::RowTrim:
      row().trims.push_back(value);
      break;
    case Field::MapBeforeNumber:
      raw.loose_before_face[map_].push_back(value);
      break;
    case Field::SpanLoose:
      span().loose = value;
      break;
    case Field::SpanVertex:
      span().vertices.push_back(value);
      break;
    case Field::SpanTexcoord:
      span().texcoords.push_back(value);
      break;
    case Field::SpanBefore:
      span().before_face = value;
      break;
    case Field::RangeNumber:
      (stack_.back().index == 0 ? range_.first : range_.end) = value;
      break;
    default:
      break;
  }
  return true;
}

bool Reader::store_text(Field field, const std::string& text) {
  const auto role = [&](Role& out) {
    for (const Role known : {Role::Cloth, Role::Trim, Role::Stitching}) {
      if (text == to_text(known)) {
        out = known;
        return true;
      }
    }
    return fail("must be \"cloth\", \"trim\" or \"stitching\", not \"" + text.substr(0, 40) + "\"");
  };
  switch (field) {
    case Field::Format:
      return text == "trimtack-parts" || fail("must be \"trimtack-parts\"");
    case Field::SourceFile:
      raw.parts.source_file = text;
      break;
    case Field::SourceUnit:
      for (const auto& [name, mm] : {std::pair{"mm", 1.0}, {"cm", 10.0}, {"m", 1000.0}, {"in", 25.4}}) {
        if (text != name) continue;
        raw.parts.unit.name = text;
        raw.parts.unit.mm_per_unit = mm;
        return true;
      }
      return fail("must be \"mm\", \"cm\", \"m\" or \"in\"");
    case Field::SourceReason:
      raw.parts.unit.reasons.push_back(text);
      break;
    case Field::SourceUp:
      if (text != "y" && text != "z") return fail("must be \"y\" or \"z\"");
      raw.parts.up = text == "y" ? UpAxis::Y : UpAxis::Z;
      break;
    case Field::ComponentRole:
      return role(component().role);
    case Field::ComponentReason:
      component().reasons.push_back(text);
      break;
    case Field::TrimName:
      trim().name = text;
      break;
    case Field::TrimRole:
      return role(trim().role);
    case Field::PrototypeName:
      prototype().name = text;
      break;
    case Field::PrototypeTradeSize:
      prototype().trade_size = text;
      break;
    case Field::SpanKind:
      if (text != "line" && text != "point") return fail("must be \"line\" or \"point\"");
      span().kind = text == "line" ? ElementKind::Line : ElementKind::Point;
      break;
    case Field::SpanObject:
      span().object = text;
      break;
    case Field::SpanGroup:
      span().group = text;
      break;
    case Field::SpanSmoothing:
      span().smoothing = text;
      break;
    case Field::SpanMaterial:
      span().material = text;
      break;
    case Field::RowKind:
      if (text == "line")
        row().kind = RowKind::Line;
      else if (text == "zipper")
        row().kind = RowKind::Zipper;
      else if (text == "stitch-line")
        row().kind = RowKind::StitchLine;
      else
        return fail("must be \"line\", \"zipper\" or \"stitch-line\"");
      break;
    default:
      break;
  }
  return true;
}

}  // namespace

Result<Raw> read_raw(std::string_view text, const std::string& file) {
  Reader reader(file);
  const bool read = nlohmann::json::sax_parse(text.begin(), text.end(), &reader);
  if (reader.error) return *reader.error;
  if (!read) return Error{ErrorCode::BadInput, "not valid JSON", file, 0};
  return std::move(reader.raw);
}

}  // namespace trimtack::parts_json
