// SPDX-License-Identifier: MIT
// Prints the public headers that were compiled by themselves, one a line.
#include <cstdio>
#include <string>
#include <vector>

namespace {
std::vector<std::string>& headers() {
  static std::vector<std::string> names;
  return names;
}
}  // namespace

bool add_header(const char* name);
bool add_header(const char* name) {
  headers().emplace_back(name);
  return true;
}

int main() {
  for (const std::string& name : headers()) std::puts(name.c_str());
  return headers().empty() ? 1 : 0;
}
