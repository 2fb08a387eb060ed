// SPDX-License-Identifier: MIT
#include "core/text_number.hpp"

#include <bit>
#include <catch2/catch.hpp>
#include <charconv>
#include <clocale>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <random>
#include <string>
#include <string_view>

#include "core/shortest_decimal.hpp"

using namespace trimtack;

namespace {

std::uint64_t bits(double value) { return std::bit_cast<std::uint64_t>(value); }

ParsedNumber parse(const std::string& text) { return parse_double(text.data(), text.data() + text.size()); }

double value_of(const std::string& text) {
  const ParsedNumber number = parse(text);
  CHECK(number.status == NumberStatus::Ok);
  CHECK(number.end == text.data() + text.size());
  return number.value;
}

/// What the standard library makes of it: required to round correctly.
double expected(const std::string& text) {
  const char* const first = text.data() + (text[0] == '+' ? 1 : 0);
  double value = 0;
  std::from_chars(first, text.data() + text.size(), value);
  return value;
}

/// A decimal of one of the shapes that exporters print, and of shapes that are hard to round.
std::string random_decimal(std::mt19937_64& random) {
  std::string text = random() % 3 == 0 ? "-" : "";
  const auto digits = [&](std::uint64_t count) {
    for (std::uint64_t i = 0; i < count; ++i) text += static_cast<char>('0' + random() % 10);
  };
  switch (random() % 8) {
    case 0:  // what printf("%.6f") gives
    case 1:
      digits(1 + random() % 5);
      text += '.';
      digits(6);
      break;
    case 2:
      digits(1 + random() % 19);
      break;
    case 3:  // up to 19 digits in all
      digits(1 + random() % 3);
      text += '.';
      digits(random() % 17);
      break;
    case 4:  // many digits
      digits(1 + random() % 25);
      text += '.';
      digits(random() % 40);
      break;
    case 5:
      digits(1);
      text += '.';
      digits(random() % 17);
      text += random() % 2 == 0 ? 'e' : 'E';
      text += std::to_string(static_cast<int>(random() % 600) - 300);
      break;
    case 6:
      text += "0.";
      text.append(random() % 25, '0');
      digits(1 + random() % 18);
      break;
    default: {  // 17 digits of a random double of ordinary size
      char buffer[64];
      std::snprintf(buffer, sizeof buffer, "%.17g",
                    std::ldexp(static_cast<double>(random() >> 11), static_cast<int>(random() % 40) - 60));
      text += buffer;
    }
  }
  return text;
}

}  // namespace

TEST_CASE("values of single decimals are exact") {
  CHECK(value_of("0") == 0);
  CHECK(std::signbit(value_of("-0.0")));
  CHECK(value_of("+.5") == 0.5);
  CHECK(value_of("5.") == 5);
  CHECK(value_of("-12.25e-1") == -1.225);
  CHECK(value_of("1E+05") == 100000);
  CHECK(value_of("9007199254740993") == 9007199254740992.0);  // halfway: ties to even
  CHECK(value_of("9007199254740995") == 9007199254740996.0);  // halfway: ties to even, upwards
  CHECK(value_of("9007199254740993.0000000000000000000001") == 9007199254740994.0);
  CHECK(value_of("1.7976931348623157e308") == std::numeric_limits<double>::max());
  CHECK(value_of("4.9e-324") == std::numeric_limits<double>::denorm_min());
  CHECK(value_of("2.2250738585072014e-308") == std::numeric_limits<double>::min());
  CHECK(value_of("12345678.87654321") == 12345678.87654321);
  CHECK(value_of("0000000000000000000000000000001.5") == 1.5);
}

TEST_CASE("too small becomes a signed zero, too large is told") {
  CHECK(bits(value_of("1e-400")) == bits(0.0));
  CHECK(bits(value_of("-1e-400")) == bits(-0.0));
  CHECK(bits(value_of("0." + std::string(400, '0') + "1")) == bits(0.0));
  CHECK(bits(value_of("0e999999999999999999999")) == bits(0.0));
  CHECK(value_of(std::string(400, '0') + "1e2") == 100);
  CHECK(parse("1e309").status == NumberStatus::TooLarge);
  CHECK(parse("-1e999999999999999999999999").status == NumberStatus::TooLarge);
  CHECK(parse("1" + std::string(400, '0')).status == NumberStatus::TooLarge);
  CHECK(bits(value_of("1" + std::string(400, '0') + "e-800")) == bits(0.0));
}

TEST_CASE("text that is no finite number is told apart") {
  for (const char* text : {"nan", "NaN", "-nan(ind)", "inf", "+Infinity", "1.#QNAN", "-1.#IND", "1.#INF"}) {
    INFO(text);
    CHECK(parse(text).status == NumberStatus::NotFinite);
  }
  for (const char* text : {"", "-", "+", ".", "e5", "x", "--1", "-+1", "+-1", "/", ":"}) {
    INFO(text);
    CHECK(parse(text).status == NumberStatus::NotANumber);
  }
  // What follows a number is not touched.
  for (const auto& [text, length] :
       {std::pair("1,5", 1), std::pair("1.5.2", 3), std::pair("1e", 1), std::pair("1e+", 1), std::pair("2/3", 1),
        std::pair("0x10", 1), std::pair("12345678x", 8)}) {
    INFO(text);
    const std::string copy(text);
    const ParsedNumber number = parse(copy);
    CHECK(number.status == NumberStatus::Ok);
    CHECK(number.end - copy.data() == length);
  }
}

TEST_CASE("four million random decimals are rounded as std::from_chars rounds them") {
  const std::uint64_t seed = 20240611;
  std::mt19937_64 random(seed);
  std::size_t wrong = 0;
  for (int i = 0; i < 4000000; ++i) {
    const std::string text = random_decimal(random);
    const ParsedNumber number = parse(text);
    if (number.status == NumberStatus::Ok && number.end == text.data() + text.size() &&
        bits(number.value) == bits(expected(text))) {
      continue;
    }
    if (++wrong < 10) FAIL_CHECK("seed " << seed << ", case " << i << ": " << text);
  }
  CHECK(wrong == 0);
}

TEST_CASE("decimals that lie halfway between two doubles, or next to it, are rounded correctly") {
  // (2 m + 1) 2^-e has a finite decimal expansion; for few binary places it fits 19 digits and is an exact tie.
  std::mt19937_64 random(31);
  std::size_t ties = 0;
  std::size_t wrong = 0;
  for (int i = 0; i < 300000; ++i) {
    const int places = 1 + static_cast<int>(random() % 3);
    const std::uint64_t whole = (std::uint64_t{1} << (53 - places)) + random() % (std::uint64_t{1} << (53 - places));
    const std::uint64_t denominator = std::uint64_t{1} << (places + 1);
    const std::uint64_t numerator = 2 * (random() % (denominator / 2)) + 1;
    char text[64];
    // whole + numerator / denominator with an odd numerator: one bit more than a double has.
    std::snprintf(text, sizeof text, "%llu.%0*llu", static_cast<unsigned long long>(whole), places + 1,
                  static_cast<unsigned long long>(numerator * static_cast<std::uint64_t>(std::pow(10, places + 1)) /
                                                  denominator));
    for (const int change : {0, 1, -1}) {
      std::string decimal = text;
      decimal.back() = static_cast<char>(decimal.back() + change);  // ends with 5
      ++ties;
      if (bits(parse(decimal).value) != bits(expected(decimal)) && ++wrong < 10) FAIL_CHECK("seed 31: " << decimal);
    }
  }
  CHECK(ties > 100000);
  CHECK(wrong == 0);
}

TEST_CASE("the end of the text is respected at every length") {
  // Digits go on behind the end: reading too far would show in the value.
  const std::string text = "-1234567890.1234567890123456";
  for (std::size_t length = 1; length <= text.size(); ++length) {
    const std::string part = text.substr(0, length);
    const ParsedNumber number = parse_double(text.data(), text.data() + length);
    if (length == 1) {
      CHECK(number.status == NumberStatus::NotANumber);
    } else {
      CHECK(bits(number.value) == bits(expected(part)));
      CHECK(number.end == text.data() + length);
    }
  }
}

TEST_CASE("two million random doubles read back from their shortest text to the same bits") {
  std::mt19937_64 random(5);
  char buffer[kMaxDoubleText];
  std::size_t wrong = 0;
  std::ptrdiff_t longest = 0;
  for (int i = 0; i < 2000000; ++i) {
    // Any bit pattern half of the time, else coordinates of ordinary size.
    double value = std::bit_cast<double>(random());
    if (i % 2 == 0) value = std::ldexp(static_cast<double>(static_cast<std::int64_t>(random())), -55);
    if (!std::isfinite(value)) continue;
    const char* const end = format_double(buffer, value);
    longest = std::max(longest, end - buffer);
    const ParsedNumber number = parse_double(buffer, end);
    if (number.end != end || bits(number.value) != bits(value)) ++wrong;
  }
  CHECK(wrong == 0);
  CHECK(longest <= 26);  // sign, 17 digits behind 0.000000
}

TEST_CASE("the shortest decimal is that of std::to_chars") {
  std::mt19937_64 random(29);
  std::size_t wrong = 0;
  const auto check = [&](double value) {
    char ours[kMaxShortestText], theirs[kMaxShortestText];
    const std::string_view text(ours, static_cast<std::size_t>(format_shortest(ours, value) - ours));
    char* const end = std::to_chars(theirs, theirs + sizeof theirs, value).ptr;
    if (text != std::string_view(theirs, static_cast<std::size_t>(end - theirs)) && ++wrong < 10)
      FAIL_CHECK(text << " for " << std::string_view(theirs, static_cast<std::size_t>(end - theirs)));
  };
  const auto check_about = [&](double value) {
    for (const double near : {value, std::nextafter(value, 0.0), std::nextafter(value, 1e308), -value}) check(near);
  };
  for (int exponent = -1074; exponent < 1024; ++exponent) check_about(std::ldexp(1.0, exponent));
  for (int exponent = -45; exponent < 25; ++exponent)
    for (int digits = 1; digits < 1000; digits += 3) check_about(digits * std::pow(10.0, exponent));
  for (int i = 0; i < 100000; ++i) check(i);
  for (const double value : {0.0, -0.0, std::numeric_limits<double>::infinity(), std::numeric_limits<double>::max()})
    check(value);
  for (int i = 0; i < 1000000; ++i) {
    // Every exponent of the fast path, and significands with few bits.
    const std::uint64_t exponent = 1023 - 140 + random() % 210;
    check(std::bit_cast<double>((random() & 0x800fffffffffffffU) | exponent << 52U));
    check(std::ldexp(static_cast<double>(random() >> (11 + random() % 52)), -static_cast<int>(random() % 120)));
  }
  CHECK(wrong == 0);
}

TEST_CASE("short decimals are written as std::to_chars writes them") {
  std::mt19937_64 random(23);
  char ours[kMaxDoubleText];
  char theirs[400];
  std::size_t wrong = 0;
  const auto check = [&](double value) {
    if (value != 0 && (std::abs(value) < 1e-7 || std::abs(value) >= 1e21)) return;  // exponents start there
    const std::string text(ours, static_cast<std::size_t>(format_double(ours, value) - ours));
    char* const end = std::to_chars(theirs, theirs + sizeof theirs, value, std::chars_format::fixed).ptr;
    if (text != std::string_view(theirs, static_cast<std::size_t>(end - theirs)) && ++wrong < 10)
      FAIL_CHECK(text << " for " << value);
  };
  for (int i = 0; i < 1000000; ++i) {
    // Decimals of 0 to 8 places, and their neighbours, which need 17 digits.
    const double power = std::pow(10.0, static_cast<double>(random() % 9));
    const double value = static_cast<double>(random() >> (12 + random() % 50)) / power;
    check(value);
    check(-value);
    check(std::nextafter(value, 0.0));
  }
  for (const double value : {0.0, -0.0, 0.1, 0.000001, 999999999.999999, 999999999.9999995, 1e9, 123456789.123456})
    check(value);
  CHECK(wrong == 0);
}

TEST_CASE("whole numbers are written as std::to_string writes them") {
  std::mt19937_64 random(17);
  char buffer[kMaxWholeText];
  std::size_t wrong = 0;
  const auto check = [&](std::uint32_t value) {
    if (std::string(buffer, format_whole(buffer, value)) != std::to_string(value)) ++wrong;
  };
  for (std::uint32_t value = 0; value < 200000; ++value) check(value);
  for (std::uint64_t power = 1; power <= 1000000000U; power *= 10) {
    check(static_cast<std::uint32_t>(power));
    check(static_cast<std::uint32_t>(power - 1));
  }
  check(0xffffffffU);
  for (int i = 0; i < 1000000; ++i) check(static_cast<std::uint32_t>(random() >> (32 + random() % 32)));
  CHECK(wrong == 0);
}

TEST_CASE("a locale with decimal commas changes nothing") {
  bool found = false;
  for (const char* name : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8"}) {
    if (std::setlocale(LC_ALL, name) == nullptr) continue;
    found = true;
    break;
  }
  if (!found) WARN("no locale with decimal commas is installed; checked in the C locale only");
  CHECK(value_of("1.5") == 1.5);
  CHECK(value_of("1.23456789012345678901234567890") == 1.23456789012345678901234567890);
  char buffer[kMaxDoubleText];
  CHECK(std::string(buffer, format_double(buffer, -0.5)) == "-0.5");
  std::setlocale(LC_ALL, "C");
}
