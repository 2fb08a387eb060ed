// SPDX-License-Identifier: MIT
// parts.json: what is written reads back the same; whatever is wrong is named by its path.
#include "trimtack/io/parts_json.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <random>

using namespace trimtack;
using nlohmann::json;

namespace {

/// A garment of `components` parts; every third vertex range in two pieces, seeded.
PartsFile make_parts(Index components, unsigned seed) {
  std::mt19937 random(seed);
  const auto real = [&] { return std::uniform_real_distribution<double>(-1e4, 1e4)(random); };
  PartsFile file;
  Parts& parts = file.parts;
  parts.source_file = "coat \"draft\" \xC3\xA9.obj";
  parts.unit = {10.0, "cm", 0.75, {"panels are 3 cm apart", "tab\there"}};
  parts.up = UpAxis::Z;
  for (Index c = 0; c < components; ++c) {
    Component component;
    component.role = static_cast<Role>(c % 3);
    component.confidence = std::uniform_real_distribution<double>(0, 1)(random);
    component.uncertain = c % 7 == 0;
    component.reasons = {"closed", "0.5 mm thick"};
    const Index faces = 1 + c % 5, vertices = 2 + c % 4;
    component.faces = {{parts.source_faces, parts.source_faces + faces}};
    component.vertices = {{parts.source_vertices, parts.source_vertices + 1},
                          {parts.source_vertices + 2, parts.source_vertices + 2 + vertices}};
    parts.component_of_face.insert(parts.component_of_face.end(), faces, c);
    parts.component_of_vertex.push_back(c);
    parts.component_of_vertex.push_back(kNone);
    parts.component_of_vertex.insert(parts.component_of_vertex.end(), vertices, c);
    SubsetMap& map = c % 3 == 0 ? file.maps.cloth : (c % 3 == 1 ? file.maps.trims : file.maps.stitching);
    for (Index i = 0; i < faces; ++i) map.faces.push_back(parts.source_faces + i);
    for (Index i = 0; i < vertices + 2; ++i) map.positions.push_back(parts.source_vertices + i);
    for (Index i = 0; i < 3; ++i) map.texcoords.push_back(2 * c + i * i);
    map.normals.push_back(c);
    parts.source_faces += faces;
    parts.source_vertices += vertices + 2;
    if (component.role != Role::Cloth) {
      Trim trim;
      trim.name = "button " + std::to_string(c);
      trim.role = component.role;
      trim.components = {c};
      trim.prototype = 0;
      trim.mirrored = c % 2 == 0;
      trim.scale = 0.948;
      for (double& m : trim.placement.rotation.m) m = real();
      trim.placement.translation = {real(), real(), real()};
      trim.row = c % 2 == 0 ? kNone : 0;
      component.trim = static_cast<Index>(parts.trims.size());
      parts.trims.push_back(trim);
    }
    parts.components.push_back(component);
  }
  // The maps' lists must ascend strictly across components.
  for (SubsetMap* map : {&file.maps.cloth, &file.maps.trims, &file.maps.stitching}) {
    std::sort(map->texcoords.begin(), map->texcoords.end());
    map->texcoords.erase(std::unique(map->texcoords.begin(), map->texcoords.end()), map->texcoords.end());
  }
  file.maps.trims.loose = {0, 4};
  file.maps.trims.loose_before_face = {7, 7};
  file.maps.spanning.push_back({2, ElementKind::Point, {0, 9}, {}, 5, "coat", "front \"left\"", "", "cotton"});
  file.maps.spanning.push_back({3, ElementKind::Line, {1, 8, 3}, {2, 2, 2}, 5, "", "", "off", ""});
  parts.prototypes.push_back({"button", 0, 3, {15.24, 15.2, 3}, "24L", 0.9, 1e-7});
  parts.rows.push_back({RowKind::Zipper, {0}, 3.1});
  return file;
}

void check_same(const PartsFile& a, const PartsFile& b) {
  // Writing is injective in all that matters, so equal texts are equal parts; the derived arrays are compared apart.
  CHECK(write_parts_json(a.parts, a.maps) == write_parts_json(b.parts, b.maps));
  CHECK(a.parts.component_of_face == b.parts.component_of_face);
  CHECK(a.parts.component_of_vertex == b.parts.component_of_vertex);
  CHECK(a.maps.cloth.positions == b.maps.cloth.positions);
  CHECK(a.maps.trims.loose_before_face == b.maps.trims.loose_before_face);
  CHECK(a.maps.trims.texcoords == b.maps.trims.texcoords);
  CHECK(a.maps.stitching.faces == b.maps.stitching.faces);
}

std::string refused(const json& edited) {
  const auto read = read_parts_json(edited.dump(), "parts.json");
  if (read) return "accepted";
  CHECK(read.error().code == ErrorCode::BadInput);
  CHECK(read.error().subject == "parts.json");
  return read.error().message;
}

}  // namespace

TEST_CASE("parts.json reads back to the same parts and maps, to the bit", "[parts_json]") {
  for (const unsigned seed : {1U, 2U, 3U}) {
    INFO("seed " << seed);
    const PartsFile made = make_parts(20 + seed, seed);
    const auto read = read_parts_json(write_parts_json(made.parts, made.maps), "parts.json");
    REQUIRE(read);
    check_same(made, *read);
    CHECK(read->parts.trims[1].placement.translation == made.parts.trims[1].placement.translation);
    CHECK(read->parts.components[5].confidence == made.parts.components[5].confidence);
    CHECK(read->parts.unit.reasons == made.parts.unit.reasons);
  }
}

TEST_CASE("parts.json has the keys that other programs read", "[parts_json]") {
  const PartsFile made = make_parts(9, 5);
  const json root = json::parse(write_parts_json(made.parts, made.maps));
  CHECK(root["format"] == "trimtack-parts");
  CHECK(root["version"] == 1);
  CHECK(root["source"]["faces"] == made.parts.source_faces);
  CHECK(root["source"]["unit"] == "cm");
  CHECK(root["source"]["up"] == "z");
  CHECK(root["components"][0]["trim"].is_null());
  CHECK(root["components"][1]["trim"] == 0);
  CHECK(root["components"][2]["faces"] == json::parse("[[3, 6]]"));
  CHECK(root["trims"][0]["placement"]["rotation"].size() == 3);
  CHECK(root["trims"][0]["components"] == json::parse("[1]"));
  CHECK(root["cloth_vertex_of"].get<std::vector<Index>>() == made.maps.cloth.positions);
}

namespace {

bool is_of_type(const json& value, const std::string& type) {
  if (type == "array") return value.is_array();
  if (type == "object") return value.is_object();
  if (type == "integer") return value.is_number_integer();
  if (type == "number") return value.is_number();
  if (type == "string") return value.is_string();
  if (type == "null") return value.is_null();
  return type == "boolean" && value.is_boolean();
}

/// Every key of `value` stands in the schema, and every required key of the schema stands in `value`.
void check_against(const json& schema, const json& root, const json& value, const std::string& path) {
  json rule = schema;
  while (rule.contains("$ref")) rule = root.at(json::json_pointer(rule["$ref"].get<std::string>().substr(1)));
  INFO(path);
  if (value.is_object()) {
    REQUIRE(rule.contains("properties"));
    for (const auto& [key, inner] : value.items()) {
      INFO("key " << key);
      REQUIRE(rule["properties"].contains(key));
      check_against(rule["properties"][key], root, inner, path + "." + key);
    }
    for (const json& key : rule["required"]) CHECK(value.contains(key.get<std::string>()));
  } else if (value.is_array() && rule.contains("items")) {
    for (const json& inner : value) check_against(rule["items"], root, inner, path + "[]");
  } else if (rule.contains("enum")) {
    CHECK(std::find(rule["enum"].begin(), rule["enum"].end(), value) != rule["enum"].end());
  } else if (rule.contains("type")) {
    const json types = rule["type"].is_array() ? rule["type"] : json::array({rule["type"]});
    CHECK(std::any_of(types.begin(), types.end(), [&](const json& type) { return is_of_type(value, type); }));
  }
}

}  // namespace

TEST_CASE("parts.json keeps to its schema, which names every key", "[parts_json]") {
  std::ifstream file(TRIMTACK_SOURCE_DIR "/src/io/parts.schema.json");
  const json schema = json::parse(file);
  const PartsFile made = make_parts(12, 10);
  check_against(schema, schema, json::parse(write_parts_json(made.parts, made.maps)), "parts");
}

TEST_CASE("an author's edits are read: role, trim, order of keys, extra keys", "[parts_json]") {
  const PartsFile made = make_parts(9, 6);
  json root = json::parse(write_parts_json(made.parts, made.maps));  // sorts the keys by name
  root["components"][0]["role"] = "trim";
  root["components"][0]["trim"] = 99;
  root["components"][0]["note"] = {{"mine", {1, 2, {{"deep", nullptr}}}}};
  root["remark"] = "checked by hand";
  const auto read = read_parts_json(root.dump(3), "parts.json");
  REQUIRE(read);
  CHECK(read->parts.components[0].role == Role::Trim);
  CHECK(read->parts.components[0].trim == 99);
}

TEST_CASE("what is wrong in parts.json is named by its path", "[parts_json]") {
  const PartsFile made = make_parts(9, 7);
  const json good = json::parse(write_parts_json(made.parts, made.maps));
  const auto with = [&](const std::function<void(json&)>& edit) {
    json edited = good;
    edit(edited);
    return refused(edited);
  };
  using Catch::Contains;
  CHECK_THAT(with([](json& j) { j["components"][3]["role"] = "button"; }), Contains("components[3].role must be"));
  CHECK_THAT(with([](json& j) { j["components"][3]["role"] = 3; }), Contains("components[3].role must be a text"));
  CHECK_THAT(with([](json& j) { j["trims"][0]["role"] = "cloth"; }),
             Contains("trims[0].role is \"cloth\", but components["));
  CHECK_THAT(with([](json& j) { j["components"][3]["trim"] = -1; }), Contains("components[3].trim must be an id"));
  CHECK_THAT(with([](json& j) { j["components"][3].erase("faces"); }), Contains("components[3] lacks \"faces\""));
  CHECK_THAT(with([](json& j) { j["components"][3]["id"] = 4; }), Contains("components[3].id must be 3"));
  CHECK_THAT(with([](json& j) {
               j["components"][3]["faces"][0] = {5, 5};
             }),
             Contains("components[3].faces[0] must be [first, end)"));
  CHECK_THAT(with([](json& j) { j["components"][3]["faces"][0] = {5, 6, 7}; }), Contains("must hold 2 items"));
  CHECK_THAT(with([](json& j) { j["components"][3]["faces"][0] = {0, 1}; }), Contains("holds 0, which components["));
  CHECK_THAT(with([](json& j) { j["components"][8]["faces"].clear(); }), Contains("hold no entry for"));
  CHECK_THAT(with([](json& j) { j["components"][8]["vertices"][0][1] = 4000000000U; }),
             Contains("components[8].vertices"));
  CHECK_THAT(with([](json& j) { j["components"][0]["vertices"] = {{3, 4}, {2, 3}}; }), Contains("must begin after"));
  CHECK_THAT(with([](json& j) { j["trims"][0]["prototype"] = 7; }), Contains("trims[0].prototype is no prototype"));
  CHECK_THAT(with([](json& j) { j["trims"][0]["components"] = {70}; }),
             Contains("trims[0].components[0] is no component"));
  CHECK_THAT(with([](json& j) {
               j["trims"][0]["placement"]["rotation"] = {1, 2, 3};
             }),
             Contains("rotation[0] must be a list"));
  CHECK_THAT(with([](json& j) { j["rows"][0]["trims"] = {70}; }), Contains("rows[0].trims[0] is no trim"));
  CHECK_THAT(with([](json& j) { j["maps"]["cloth"]["faces"].clear(); }), Contains("maps.*.faces"));
  CHECK_THAT(with([](json& j) {
               j["maps"]["cloth"]["texcoords"] = {{0, 4000000000U}};
             }),
             Contains("maps.cloth.texcoords"));
  CHECK_THAT(with([](json& j) { j["maps"]["trims"]["loose_before_face"] = {1}; }),
             Contains("maps.trims.loose_before_face"));
  CHECK_THAT(with([](json& j) { j["maps"]["spanning"][1]["kind"] = "curve"; }), Contains("maps.spanning[1].kind"));
  CHECK_THAT(with([](json& j) { j["maps"].erase("trims"); }), Contains("maps lacks \"trims\""));
  CHECK_THAT(with([](json& j) { j["version"] = 2; }), Contains("version"));
  CHECK_THAT(with([](json& j) { j["format"] = "other"; }), Contains("trimtack-parts"));
  CHECK_THAT(with([](json& j) { j["source"]["unit"] = "ell"; }), Contains("source.unit"));
  CHECK_THAT(with([](json& j) { j["source"]["faces"] = 4000000000U; }), Contains("source.faces"));
  CHECK_THAT(with([](json& j) { j = json::array(); }), Contains("must be an object"));
}

TEST_CASE("hostile parts.json ends soon, with an error", "[parts_json]") {
  const auto refuses = [](const std::string& text) {
    const auto read = read_parts_json(text, "parts.json");
    REQUIRE_FALSE(read);
    CHECK(read.error().code == ErrorCode::BadInput);
    CHECK(read.error().message.size() < 400);
  };
  refuses("");
  refuses("{");
  refuses("nul");
  refuses(std::string(1'000'000, '['));
  refuses("{\"x\": " + std::string(1'000'000, '[') + "}");
  refuses("{\"components\": [[" + std::string(100'000, '{'));
  refuses("{\"" + std::string(1'000'000, 'k') + "\": [}");
  refuses("{\"format\": \"trimtack-parts\", \"format\": \"trimtack-parts\"}");
  refuses("{\"source\": {\"mm_per_unit\": 1e999}}");
  const PartsFile made = make_parts(6, 8);
  const std::string good = write_parts_json(made.parts, made.maps);
  for (std::size_t length = 0; length + 2 < good.size(); length += 1 + length / 64) refuses(good.substr(0, length));
  const auto limited = read_parts_json(good, "parts.json", 3);
  REQUIRE_FALSE(limited);
}

TEST_CASE("100,000 components are written and read in seconds", "[parts_json]") {
  const PartsFile made = make_parts(100'000, 9);
  const auto begin = std::chrono::steady_clock::now();
  const std::string text = write_parts_json(made.parts, made.maps);
  const auto middle = std::chrono::steady_clock::now();
  const auto read = read_parts_json(text, "parts.json");
  const auto end = std::chrono::steady_clock::now();
  REQUIRE(read);
  const double write_seconds = std::chrono::duration<double>(middle - begin).count();
  const double read_seconds = std::chrono::duration<double>(end - middle).count();
  WARN("bytes " << text.size() << ", written in " << write_seconds << " s, read in " << read_seconds << " s");
  CHECK(write_seconds < 20);  // only a guard against quadratic growth: sanitizer builds must pass too
  CHECK(read_seconds < 40);
  CHECK(read->parts.component_of_face == made.parts.component_of_face);
}
