// SPDX-License-Identifier: MIT
/// The grammar of parts.json: which key stands where and what it holds.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace trimtack::parts_json {

// clang-format off
enum class Field : std::uint8_t {
  Skip, Root, Format, Version, Source, SourceFile, SourceFaces, SourceVertices, SourceDoubled, SourceDouble,
  SourceUnit, SourceMm,
  SourceConfidence, SourceReasons, SourceReason, SourceUp, Components, Component, ComponentId, ComponentRole,
  ComponentConfidence, ComponentUncertain, ComponentReasons, ComponentReason, ComponentTrim, ComponentFaces,
  ComponentVertices, Trims, Trim, TrimId, TrimName, TrimRole, TrimComponents, TrimComponent, TrimPrototype,
  TrimMirrored, TrimScale, TrimPlacement, TrimTranslation, TrimTranslationNumber, TrimRotation, TrimRotationRow,
  TrimRotationNumber, TrimRow, Prototypes, Prototype, PrototypeId, PrototypeName, PrototypeTrim, PrototypeCount,
  PrototypeSize, PrototypeSizeNumber, PrototypeTradeSize, PrototypeTradeConfidence, PrototypeResidual, Rows, Row,
  RowId, RowKind, RowPitch, RowTrims, RowTrim, Maps, Map, MapVertices, MapTexcoords, MapNormals, MapFaces, MapLoose,
  Range, RangeNumber, MapBefore, MapBeforeNumber, Spanning, Span, SpanLoose, SpanKind, SpanVertices, SpanVertex,
  SpanTexcoords, SpanTexcoord, SpanBefore, SpanObject, SpanGroup, SpanSmoothing, SpanMaterial,
};
// clang-format on

enum class Shape : std::uint8_t { Object, Array, Text, Number, Whole, Id, Flag };

/// What a field must be; Id is a whole number or null.
struct FieldRule {
  Field field;
  Shape shape;
};

struct KeyRule {
  Field parent;
  std::string_view key;
  Field child;
  bool required;
};

struct ItemRule {
  Field parent, item;
};

// clang-format off
/// Keys of one parent stand together.
inline constexpr auto kKeys = std::to_array<KeyRule>({
  {Field::Root, "format", Field::Format, true}, {Field::Root, "version", Field::Version, true},
  {Field::Root, "source", Field::Source, true}, {Field::Root, "components", Field::Components, true},
  {Field::Root, "trims", Field::Trims, true}, {Field::Root, "prototypes", Field::Prototypes, false},
  {Field::Root, "rows", Field::Rows, false}, {Field::Root, "maps", Field::Maps, true},
  {Field::Source, "file", Field::SourceFile, false}, {Field::Source, "faces", Field::SourceFaces, true},
  {Field::Source, "vertices", Field::SourceVertices, true},
  {Field::Source, "doubled_vertices", Field::SourceDoubled, false}, {Field::Source, "unit", Field::SourceUnit, true},
  {Field::Source, "mm_per_unit", Field::SourceMm, false},
  {Field::Source, "unit_confidence", Field::SourceConfidence, false},
  {Field::Source, "unit_reasons", Field::SourceReasons, false}, {Field::Source, "up", Field::SourceUp, true},
  {Field::Component, "id", Field::ComponentId, true}, {Field::Component, "role", Field::ComponentRole, true},
  {Field::Component, "confidence", Field::ComponentConfidence, false},
  {Field::Component, "uncertain", Field::ComponentUncertain, false},
  {Field::Component, "reasons", Field::ComponentReasons, false}, {Field::Component, "trim", Field::ComponentTrim, false},
  {Field::Component, "faces", Field::ComponentFaces, true}, {Field::Component, "vertices", Field::ComponentVertices, true},
  {Field::Trim, "id", Field::TrimId, true}, {Field::Trim, "name", Field::TrimName, false},
  {Field::Trim, "role", Field::TrimRole, false}, {Field::Trim, "components", Field::TrimComponents, true},
  {Field::Trim, "prototype", Field::TrimPrototype, false}, {Field::Trim, "mirrored", Field::TrimMirrored, false},
  {Field::Trim, "scale", Field::TrimScale, false}, {Field::Trim, "placement", Field::TrimPlacement, false},
  {Field::Trim, "row", Field::TrimRow, false}, {Field::TrimPlacement, "translation", Field::TrimTranslation, true},
  {Field::TrimPlacement, "rotation", Field::TrimRotation, true},
  {Field::Prototype, "id", Field::PrototypeId, true}, {Field::Prototype, "name", Field::PrototypeName, false},
  {Field::Prototype, "trim", Field::PrototypeTrim, true}, {Field::Prototype, "count", Field::PrototypeCount, false},
  {Field::Prototype, "size", Field::PrototypeSize, false},
  {Field::Prototype, "trade_size", Field::PrototypeTradeSize, false},
  {Field::Prototype, "trade_confidence", Field::PrototypeTradeConfidence, false},
  {Field::Prototype, "residual", Field::PrototypeResidual, false},
  {Field::Row, "id", Field::RowId, true}, {Field::Row, "kind", Field::RowKind, true},
  {Field::Row, "pitch", Field::RowPitch, false}, {Field::Row, "trims", Field::RowTrims, true},
  {Field::Maps, "cloth", Field::Map, true}, {Field::Maps, "trims", Field::Map, true},
  {Field::Maps, "stitching", Field::Map, true}, {Field::Maps, "spanning", Field::Spanning, true},
  {Field::Map, "vertices", Field::MapVertices, true}, {Field::Map, "texcoords", Field::MapTexcoords, true},
  {Field::Map, "normals", Field::MapNormals, true}, {Field::Map, "faces", Field::MapFaces, true},
  {Field::Map, "loose", Field::MapLoose, true}, {Field::Map, "loose_before_face", Field::MapBefore, true},
  {Field::Span, "loose", Field::SpanLoose, true},
  {Field::Span, "kind", Field::SpanKind, true}, {Field::Span, "vertices", Field::SpanVertices, true},
  {Field::Span, "texcoords", Field::SpanTexcoords, true}, {Field::Span, "before_face", Field::SpanBefore, true},
  {Field::Span, "object", Field::SpanObject, true}, {Field::Span, "group", Field::SpanGroup, true},
  {Field::Span, "smoothing", Field::SpanSmoothing, true}, {Field::Span, "material", Field::SpanMaterial, true},
});

inline constexpr auto kItems = std::to_array<ItemRule>({
  {Field::SourceDoubled, Field::SourceDouble}, {Field::SourceReasons, Field::SourceReason},
  {Field::Components, Field::Component},
  {Field::ComponentReasons, Field::ComponentReason}, {Field::ComponentFaces, Field::Range},
  {Field::ComponentVertices, Field::Range}, {Field::Trims, Field::Trim}, {Field::TrimComponents, Field::TrimComponent},
  {Field::TrimTranslation, Field::TrimTranslationNumber}, {Field::TrimRotation, Field::TrimRotationRow},
  {Field::TrimRotationRow, Field::TrimRotationNumber}, {Field::Prototypes, Field::Prototype},
  {Field::PrototypeSize, Field::PrototypeSizeNumber}, {Field::Rows, Field::Row}, {Field::RowTrims, Field::RowTrim},
  {Field::MapVertices, Field::Range}, {Field::MapTexcoords, Field::Range}, {Field::MapNormals, Field::Range},
  {Field::MapFaces, Field::Range}, {Field::MapLoose, Field::Range}, {Field::Range, Field::RangeNumber},
  {Field::MapBefore, Field::MapBeforeNumber}, {Field::Spanning, Field::Span}, {Field::SpanVertices, Field::SpanVertex},
  {Field::SpanTexcoords, Field::SpanTexcoord},
});

inline constexpr auto kShapes = std::to_array<FieldRule>({
  {Field::Root, Shape::Object}, {Field::Format, Shape::Text}, {Field::Version, Shape::Whole},
  {Field::Source, Shape::Object}, {Field::SourceFile, Shape::Text}, {Field::SourceFaces, Shape::Whole},
  {Field::SourceVertices, Shape::Whole}, {Field::SourceDoubled, Shape::Array}, {Field::SourceDouble, Shape::Whole},
  {Field::SourceUnit, Shape::Text}, {Field::SourceMm, Shape::Number},
  {Field::SourceConfidence, Shape::Number}, {Field::SourceReasons, Shape::Array}, {Field::SourceReason, Shape::Text},
  {Field::SourceUp, Shape::Text}, {Field::Components, Shape::Array}, {Field::Component, Shape::Object},
  {Field::ComponentId, Shape::Whole}, {Field::ComponentRole, Shape::Text}, {Field::ComponentConfidence, Shape::Number},
  {Field::ComponentUncertain, Shape::Flag}, {Field::ComponentReasons, Shape::Array},
  {Field::ComponentReason, Shape::Text}, {Field::ComponentTrim, Shape::Id}, {Field::ComponentFaces, Shape::Array},
  {Field::ComponentVertices, Shape::Array}, {Field::Trims, Shape::Array}, {Field::Trim, Shape::Object},
  {Field::TrimId, Shape::Whole}, {Field::TrimName, Shape::Text}, {Field::TrimRole, Shape::Text},
  {Field::TrimComponents, Shape::Array}, {Field::TrimComponent, Shape::Whole}, {Field::TrimPrototype, Shape::Id},
  {Field::TrimMirrored, Shape::Flag}, {Field::TrimScale, Shape::Number}, {Field::TrimPlacement, Shape::Object},
  {Field::TrimTranslation, Shape::Array}, {Field::TrimTranslationNumber, Shape::Number},
  {Field::TrimRotation, Shape::Array}, {Field::TrimRotationRow, Shape::Array},
  {Field::TrimRotationNumber, Shape::Number}, {Field::TrimRow, Shape::Id}, {Field::Prototypes, Shape::Array},
  {Field::Prototype, Shape::Object}, {Field::PrototypeId, Shape::Whole}, {Field::PrototypeName, Shape::Text},
  {Field::PrototypeTrim, Shape::Id}, {Field::PrototypeCount, Shape::Whole}, {Field::PrototypeSize, Shape::Array},
  {Field::PrototypeSizeNumber, Shape::Number}, {Field::PrototypeTradeSize, Shape::Text},
  {Field::PrototypeTradeConfidence, Shape::Number}, {Field::PrototypeResidual, Shape::Number},
  {Field::Rows, Shape::Array}, {Field::Row, Shape::Object}, {Field::RowId, Shape::Whole}, {Field::RowKind, Shape::Text},
  {Field::RowPitch, Shape::Number}, {Field::RowTrims, Shape::Array}, {Field::RowTrim, Shape::Whole},
  {Field::Maps, Shape::Object}, {Field::Map, Shape::Object}, {Field::MapVertices, Shape::Array},
  {Field::MapTexcoords, Shape::Array}, {Field::MapNormals, Shape::Array}, {Field::MapFaces, Shape::Array},
  {Field::MapLoose, Shape::Array}, {Field::Range, Shape::Array}, {Field::RangeNumber, Shape::Whole},
  {Field::MapBefore, Shape::Array}, {Field::MapBeforeNumber, Shape::Whole}, {Field::Spanning, Shape::Array},
  {Field::Span, Shape::Object}, {Field::SpanLoose, Shape::Whole}, {Field::SpanKind, Shape::Text},
  {Field::SpanVertices, Shape::Array}, {Field::SpanVertex, Shape::Whole}, {Field::SpanTexcoords, Shape::Array},
  {Field::SpanTexcoord, Shape::Whole}, {Field::SpanBefore, Shape::Whole}, {Field::SpanObject, Shape::Text},
  {Field::SpanGroup, Shape::Text}, {Field::SpanSmoothing, Shape::Text}, {Field::SpanMaterial, Shape::Text},
});
// clang-format on

/// The rules above, by field.
struct FieldRules {
  Shape shape = Shape::Object;
  Field item = Field::Skip;                   ///< of an array
  std::uint8_t first_key = 0, key_count = 0;  ///< in kKeys, of an object
};
inline constexpr auto kRules = [] {
  std::array<FieldRules, static_cast<std::size_t>(Field::SpanMaterial) + 1> rules{};
  const auto of = [&](Field field) -> FieldRules& { return rules[static_cast<std::size_t>(field)]; };
  for (const FieldRule& rule : kShapes) of(rule.field).shape = rule.shape;
  for (const ItemRule& rule : kItems) of(rule.parent).item = rule.item;
  for (std::size_t k = kKeys.size(); k-- > 0;) {
    of(kKeys[k].parent).first_key = static_cast<std::uint8_t>(k);
    ++of(kKeys[k].parent).key_count;
  }
  return rules;
}();
constexpr bool keys_stand_together() {
  for (std::size_t k = 0; k < kKeys.size(); ++k) {
    const FieldRules& rules = kRules[static_cast<std::size_t>(kKeys[k].parent)];
    if (k < rules.first_key || k >= std::size_t{rules.first_key} + rules.key_count) return false;
  }
  return true;
}
static_assert(keys_stand_together());

}  // namespace trimtack::parts_json
