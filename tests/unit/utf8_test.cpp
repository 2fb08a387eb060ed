// SPDX-License-Identifier: MIT
#include "core/utf8.hpp"

#include <catch2/catch.hpp>

using namespace trimtack;

TEST_CASE("text that is UTF-8 stays as it is") {
  for (const char* text :
       {"", "plain", "Kn\xc3\xb6pfe \xe5\xb8\x83 \xf0\x9f\xa7\xa5", "\xf4\x8f\xbf\xbf\xed\x9f\xbf\xee\x80\x80"})
    CHECK(valid_utf8(text) == text);
}

TEST_CASE("bytes that are not UTF-8 become U+FFFD, and what stands around them stays") {
  const std::string r = "\xef\xbf\xbd";
  CHECK(valid_utf8("kn\xf6pfe") == "kn" + r + "pfe");
  CHECK(valid_utf8("\xff\xfe") == r + r);
  CHECK(valid_utf8("\x80 a") == r + " a");
  CHECK(valid_utf8("a\xc3") == "a" + r);                   // cut off
  CHECK(valid_utf8("a\xf0\x9f\xa7") == "a" + r);           // cut off after three of four
  CHECK(valid_utf8("\xe5\xb8(") == r + "(");               // the bracket is not swallowed
  CHECK(valid_utf8("\xc0\xaf") == r + r);                  // a longer form than needed
  CHECK(valid_utf8("\xe0\x80\xaf") == r + r + r);          // so is this
  CHECK(valid_utf8("\xed\xa0\x80") == r + r + r);          // half of a surrogate pair
  CHECK(valid_utf8("\xf4\x90\x80\x80") == r + r + r + r);  // beyond U+10FFFF
  CHECK(valid_utf8(valid_utf8("\xf5q\xc3\xb6")) == r + "q\xc3\xb6");
}
