// SPDX-License-Identifier: MIT
/// usdz packages: zip archives without compression, every file's data at a multiple of 64 bytes.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/io/file_set.hpp"
#include "trimtack/result.hpp"

namespace trimtack::usd {

/// Streams files into one package of the set; the first one is the layer that a host opens.
class Package {
 public:
  Package(FileSet& out, const std::string& name) : out_(out), name_(name) {}
  /// Starts a file; what is appended afterwards is its content. @error BadInput beyond 4 GiB; CannotWrite.
  Result<void> begin(const std::string& file);
  Result<void> append(std::string_view bytes);
  Result<void> finish();

 private:
  struct File {
    std::string name;
    std::uint64_t header_at = 0, bytes = 0;
    std::uint32_t crc = 0;
  };
  Result<void> end_file();

  FileSet& out_;
  const std::string& name_;
  std::vector<File> files_;
  std::uint64_t written_ = 0;
};

}  // namespace trimtack::usd
