// SPDX-License-Identifier: MIT
// Replays inputs through a fuzz target without libFuzzer: every file given, or found below a folder given.
//     fuzz_NAME [--mutations N] [--seed S] FILE|FOLDER...
// With --mutations, N damaged copies of each input follow (bytes changed, cut, doubled, joined with another input).
// Inputs run in the order of their names, so that a failure can be repeated; on failure the one at work is named and
// kept.
#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

namespace fs = std::filesystem;

std::string current_input;
std::string current_text;

std::vector<fs::path> files_below(const fs::path& path) {
  std::vector<fs::path> files;
  if (fs::is_directory(path)) {
    for (const fs::directory_entry& entry : fs::recursive_directory_iterator(path)) {
      if (entry.is_regular_file()) files.push_back(entry.path());
    }
  } else {
    files.push_back(path);
  }
  std::sort(files.begin(), files.end());
  return files;
}

using Random = std::mt19937_64;
std::size_t below(Random& random, std::size_t count) { return static_cast<std::size_t>(random() % count); }

std::string damaged(std::string text, const std::vector<std::string>& all, Random& random) {
  const std::size_t edits = 1 + below(random, 4);
  for (std::size_t e = 0; e < edits; ++e) {
    const std::size_t at = text.empty() ? 0 : below(random, text.size());
    const std::size_t length = std::min(text.size() - at, 1 + below(random, 32));
    switch (below(random, 6)) {
      case 0:
        if (!text.empty()) text[at] = static_cast<char>(below(random, 256));
        break;
      case 1:
        text.erase(at, length);
        break;
      case 2:
        text.insert(at, text.substr(text.empty() ? 0 : below(random, text.size()), length));
        break;
      case 3:
        text.resize(at);
        break;
      case 4:
        text.insert(at, 1, "0123456789-+./\\\r\n\t #e\0\xff"[below(random, 23)]);
        break;
      default: {
        const std::string& other = all[below(random, all.size())];
        if (!other.empty()) text.insert(at, other.substr(below(random, other.size()), 200));
      }
    }
  }
  return text;
}

void run(const std::string& text) {
  current_text = text;
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(text.data()), text.size());
}

[[noreturn]] void stop(const char* why) {
  std::fprintf(stderr, "%s\n", why);
  std::exit(2);
}

}  // namespace

int main(int argc, char** argv) {
  // A target ends with std::terminate(): say on which input, and keep it.
  std::set_terminate([] {
    std::fprintf(stderr, "failed on %s; the input is kept as failing_input\n", current_input.c_str());
    std::ofstream("failing_input", std::ios::binary) << current_text;
    std::abort();
  });
  std::size_t mutations = 0;
  std::uint64_t seed = 1;
  std::vector<fs::path> files;
  for (int i = 1; i < argc; ++i) {
    const bool has_value = i + 1 < argc;
    if (std::strcmp(argv[i], "--mutations") == 0 && has_value) {
      mutations = std::strtoull(argv[++i], nullptr, 10);
    } else if (std::strcmp(argv[i], "--seed") == 0 && has_value) {
      seed = std::strtoull(argv[++i], nullptr, 10);
    } else if (fs::exists(argv[i])) {
      for (fs::path& file : files_below(argv[i])) files.push_back(std::move(file));
    } else {
      stop((std::string(argv[i]) + " does not exist").c_str());
    }
  }
  if (files.empty()) stop("no inputs: name files or folders that hold some");
  std::vector<std::string> inputs;
  for (const fs::path& file : files) {
    std::ifstream stream(file, std::ios::binary);
    inputs.emplace_back(std::istreambuf_iterator<char>(stream), std::istreambuf_iterator<char>());
  }
  Random random(seed);
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    current_input = files[i].string();
    run(inputs[i]);
    for (std::size_t m = 0; m < mutations; ++m) {
      current_input = files[i].string() + ", mutation " + std::to_string(m) + " of seed " + std::to_string(seed);
      run(damaged(inputs[i], inputs, random));
    }
  }
  std::printf("%zu inputs, %zu mutations of each (seed %llu): no failure\n", inputs.size(), mutations,
              static_cast<unsigned long long>(seed));
  return 0;
}
