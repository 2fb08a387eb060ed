// SPDX-License-Identifier: MIT
#include "trimtack/precision.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <string_view>

namespace trimtack {
namespace {

constexpr std::size_t kMostStatements = 1000;

/// One number as it was written: how many digits behind the point (with the exponent counted), and the last of them.
struct Written {
  int decimals = 0;
  char last = '0';
};

bool is_blank(char c) { return c == ' ' || c == '\t'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// False for a zero (it is exact in any precision) and for what is no plain number.
bool look_at(std::string_view word, Written& out) {
  bool point = false, any = false;
  out = {};
  std::size_t i = 0;
  for (; i < word.size() && (is_digit(word[i]) || word[i] == '.' || word[i] == '-' || word[i] == '+'); ++i) {
    if (word[i] == '.') point = true;
    if (!is_digit(word[i])) continue;
    any = any || word[i] != '0';
    out.last = word[i];
    out.decimals += point ? 1 : 0;
  }
  if (!any) return false;
  if (i == word.size()) return true;
  if (word[i] != 'e' && word[i] != 'E') return false;
  int exponent = 0, sign = 1;
  for (++i; i < word.size(); ++i) {
    if (word[i] == '-') sign = -1;
    if (is_digit(word[i])) exponent = std::min(10 * exponent + (word[i] - '0'), 400);
  }
  out.decimals -= sign * exponent;
  return true;
}

/// The first three numbers of the statement that `bytes` begin with.
void look_at_statement(std::string_view bytes, std::vector<Written>& out) {
  std::size_t i = 0;
  while (i < bytes.size() && !is_blank(bytes[i])) ++i;
  for (int k = 0; k < 3; ++k) {
    while (i < bytes.size() && is_blank(bytes[i])) ++i;
    std::size_t end = i;
    while (end < bytes.size() && !is_blank(bytes[end]) && bytes[end] != '\n' && bytes[end] != '\r') ++end;
    Written written;
    if (look_at(bytes.substr(i, end - i), written)) out.push_back(written);
    i = end;
  }
}

Precision of_text(const SourceText& text) {
  std::vector<Written> numbers;
  const std::size_t count = text.some_position_at.size(), wanted = std::min(count, kMostStatements);
  constexpr std::uint64_t kLongest = 512;  // of a statement; longer ones may be cut off
  std::string room;
  for (std::size_t k = 0; k < wanted; ++k) {
    const std::uint64_t at = text.some_position_at[k * count / wanted];
    const auto bytes = text.read(at, std::min(at + kLongest, text.blocks.back().end), room);
    if (!bytes) return {};
    look_at_statement(*bytes, numbers);
  }
  if (numbers.empty()) return {};
  const auto middle = numbers.begin() + static_cast<std::ptrdiff_t>(numbers.size() / 2);
  std::nth_element(numbers.begin(), middle, numbers.end(),
                   [](const Written& a, const Written& b) { return a.decimals < b.decimals; });
  const int decimals = middle->decimals;
  // Rounded digits take all values; those of exact numbers are mostly 0 or 5.
  std::array<std::size_t, 10> seen{};
  std::size_t here = 0, varied = 0;
  for (const Written& written : numbers) {
    if (written.decimals < decimals) continue;
    ++here;
    ++seen[static_cast<std::size_t>(written.last - '0')];
  }
  for (std::size_t digit = 1; digit < 10; ++digit) varied += seen[digit] * 100 > here ? 1 : 0;
  if (varied < 7) return {};
  return {std::pow(10.0, -decimals), true, decimals};
}

}  // namespace

Precision position_precision(const SourceMesh& mesh) {
  if (mesh.text != nullptr && mesh.text->count[0] == mesh.positions.size()) return of_text(*mesh.text);
  double largest = 0;
  for (const Vec3& p : mesh.positions) {
    for (int i = 0; i < 3; ++i) {
      if (static_cast<double>(static_cast<float>(p[i])) != p[i]) return {};
      largest = std::max(largest, std::abs(p[i]));
    }
  }
  if (!(largest > 0) || largest > static_cast<double>(std::numeric_limits<float>::max())) return {};
  const auto single = static_cast<float>(largest);
  return {static_cast<double>(single) - static_cast<double>(std::nextafter(single, 0.0F)), false, 0};
}

double rounding_noise(const Precision& precision) { return 0.5 * precision.step / std::numbers::sqrt3; }

double triangle_tilt_deg(double noise, double edge) {
  return edge > 0 ? noise * std::numbers::sqrt2 / edge * 180 / std::numbers::pi : 0;
}

double median_edge(const SourceMesh& mesh) {
  std::vector<double> edges;
  edges.reserve(mesh.corner_position.size());
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const std::span<const Index> face = mesh.face(f);
    for (std::size_t k = 0; k < face.size(); ++k) {
      edges.push_back(length(mesh.positions[face[(k + 1) % face.size()]] - mesh.positions[face[k]]));
    }
  }
  if (edges.empty()) return 0;
  const auto middle = edges.begin() + static_cast<std::ptrdiff_t>(edges.size() / 2);
  std::nth_element(edges.begin(), middle, edges.end());
  return *middle;
}

}  // namespace trimtack
