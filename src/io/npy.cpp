// SPDX-License-Identifier: MIT
// NPY format, versions 1.0 and 2.0: NumPy's documentation of numpy.lib.format (NEP 1).
#include "trimtack/io/npy.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <bit>
#include <cerrno>
#include <cstddef>
#include <cstring>
#include <utility>

#include "io/bad_input.hpp"

namespace trimtack {
namespace {

static_assert(std::endian::native == std::endian::little, "array bytes are written and read in the machine's order");

constexpr std::string_view kMagic("\x93NUMPY", 6);
constexpr std::size_t kBlockBytes = std::size_t{256} << 10;

// The header is the text of a Python dictionary with three keys. Only what NumPy writes (and what its reader takes
// from others: any order of keys, either quote, free spaces) is read; nothing is evaluated.
class HeaderText {
 public:
  explicit HeaderText(std::string_view text) : text_(text) {}

  bool take(char c) {
    skip();
    if (at_ >= text_.size() || text_[at_] != c) return false;
    ++at_;
    return true;
  }
  bool quoted(std::string& out) {
    skip();
    if (at_ >= text_.size() || (text_[at_] != '\'' && text_[at_] != '"')) return false;
    const std::size_t end = text_.find(text_[at_], at_ + 1);
    if (end == std::string_view::npos) return false;
    out.assign(text_.substr(at_ + 1, end - at_ - 1));
    at_ = end + 1;
    return true;
  }
  bool word(std::string_view w) {
    skip();
    if (text_.substr(at_, w.size()) != w) return false;
    at_ += w.size();
    return true;
  }
  bool number(std::uint64_t& out) {
    skip();
    const std::size_t start = at_;
    out = 0;
    for (; at_ < text_.size() && text_[at_] >= '0' && text_[at_] <= '9'; ++at_) {
      const auto digit = static_cast<std::uint64_t>(text_[at_] - '0');
      if (out > (~std::uint64_t{0} - digit) / 10) return false;
      out = out * 10 + digit;
    }
    if (at_ == start) return false;
    if (at_ < text_.size() && text_[at_] == 'L') ++at_;  // arrays saved by Python 2
    return true;
  }
  bool at_end() {
    skip();
    return at_ == text_.size();
  }

 private:
  void skip() {
    while (at_ < text_.size() && (text_[at_] == ' ' || text_[at_] == '\n' || text_[at_] == '\t')) ++at_;
  }
  std::string_view text_;
  std::size_t at_ = 0;
};

bool read_shape(HeaderText& text, std::vector<std::uint64_t>& shape) {
  if (!text.take('(')) return false;
  while (!text.take(')')) {
    std::uint64_t n = 0;
    if (shape.size() == 32 || !text.number(n)) return false;  // NumPy's own limit of dimensions
    shape.push_back(n);
    if (text.take(',')) continue;
    if (!text.take(')')) return false;
    break;
  }
  return true;
}

struct HeaderFields {
  std::string descr;
  bool fortran = false;
  std::vector<std::uint64_t> shape;
};

// An empty result is success; otherwise what is wrong with the dictionary.
std::string read_fields(std::string_view header, HeaderFields& fields) {
  HeaderText text(header);
  bool seen_descr = false, seen_order = false, seen_shape = false;
  if (!text.take('{')) return "the header is not a dictionary";
  while (!text.take('}')) {
    std::string key;
    if (!text.quoted(key) || !text.take(':')) return "the header's dictionary cannot be read";
    if (key == "descr" && !seen_descr) {
      seen_descr = true;
      if (!text.quoted(fields.descr)) return "records are not supported; save a plain float array";
    } else if (key == "fortran_order" && !seen_order) {
      seen_order = true;
      fields.fortran = text.word("True");
      if (!fields.fortran && !text.word("False")) return "fortran_order is neither True nor False";
    } else if (key == "shape" && !seen_shape) {
      seen_shape = true;
      if (!read_shape(text, fields.shape)) return "the shape cannot be read";
    } else {
      return "the header has an unexpected or repeated key '" + key.substr(0, 40) + "'";
    }
    if (text.take(',')) continue;
    if (!text.take('}')) return "the header's dictionary is not closed";
    break;
  }
  if (!text.at_end()) return "there is text behind the header's dictionary";
  if (!seen_descr || !seen_order || !seen_shape) return "the header lacks descr, fortran_order or shape";
  return {};
}

std::uint64_t little_endian(std::string_view bytes) {
  std::uint64_t value = 0;
  for (std::size_t i = bytes.size(); i-- > 0;) value = value << 8 | static_cast<unsigned char>(bytes[i]);
  return value;
}

template <class Bits, class Number>
void widen(const std::byte* in, std::size_t count, bool swap, double* out) {
  if (!swap) {
    for (std::size_t i = 0; i < count; ++i) {
      Number n;
      std::memcpy(&n, in + i * sizeof n, sizeof n);
      out[i] = n;
    }
    return;
  }
  for (std::size_t i = 0; i < count; ++i) {
    std::array<std::byte, sizeof(Bits)> item;
    std::memcpy(item.data(), in + i * sizeof(Bits), sizeof(Bits));
    std::reverse(item.begin(), item.end());
    out[i] = std::bit_cast<Number>(item);
  }
}

// Reads exactly `size` bytes at `offset`; false at an early end or an error.
bool read_at(int fd, std::byte* out, std::size_t size, std::uint64_t offset) {
  while (size > 0) {
    const ssize_t got = ::pread(fd, out, size, static_cast<off_t>(offset));
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return false;
    out += got;
    size -= static_cast<std::size_t>(got);
    offset += static_cast<std::uint64_t>(got);
  }
  return true;
}

}  // namespace

std::string npy_header(std::span<const std::uint64_t> shape, bool float64) {
  std::string dict = "{'descr': '";
  dict += float64 ? "<f8" : "<f4";
  dict += "', 'fortran_order': False, 'shape': (";
  for (std::size_t i = 0; i < shape.size(); ++i) {
    if (i != 0) dict += ", ";
    dict += std::to_string(shape[i]);
  }
  if (shape.size() == 1) dict += ',';
  dict += "), }";
  const auto padded = [&dict](std::size_t prefix) { return (prefix + dict.size() + 1 + 63) / 64 * 64 - prefix; };
  const bool long_form = padded(10) > 65535;
  const std::size_t length = padded(long_form ? 12 : 10);
  dict.resize(length - 1, ' ');
  dict += '\n';
  std::string out(kMagic);
  out += static_cast<char>(long_form ? 2 : 1);
  out += '\0';
  for (int i = 0; i < (long_form ? 4 : 2); ++i) out += static_cast<char>(length >> (8 * i) & 0xff);
  return out + dict;
}

Result<NpyInfo> parse_npy_info(std::string_view head, std::uint64_t file_bytes, const std::string& file) {
  if (head.size() < 10 || head.substr(0, 6) != kMagic)
    return bad_input(file, "is not an NPY file: its first bytes are not \\x93NUMPY");
  const int major = static_cast<unsigned char>(head[6]), minor = static_cast<unsigned char>(head[7]);
  if ((major != 1 && major != 2) || minor != 0) {
    return bad_input(file, "NPY version " + std::to_string(major) + "." + std::to_string(minor) +
                               " is not supported; save it with version 1.0 or 2.0");
  }
  const std::size_t prefix = major == 1 ? 10 : 12;
  if (head.size() < prefix) return bad_input(file, "ends within the NPY header");
  const std::uint64_t length = little_endian(head.substr(8, prefix - 8));
  if (length > file_bytes - std::min<std::uint64_t>(prefix, file_bytes)) {
    return bad_input(file, "ends within the NPY header: the header claims " + std::to_string(length) + " bytes");
  }
  if (prefix + length > head.size()) return bad_input(file, "the NPY header is longer than 1 MiB");
  HeaderFields fields;
  const std::string wrong = read_fields(head.substr(prefix, length), fields);
  if (!wrong.empty()) return bad_input(file, "NPY header: " + wrong);
  NpyInfo info;
  info.data_offset = prefix + length;
  info.big_endian = fields.descr.substr(0, 1) == ">";
  if (fields.descr != "<f4" && fields.descr != "<f8" && fields.descr != ">f4" && fields.descr != ">f8") {
    return bad_input(file, "holds numbers of type '" + fields.descr.substr(0, 20) + "'; save it as float32 or float64");
  }
  info.item_bytes = fields.descr[2] - '0';
  const auto counted = std::count_if(fields.shape.begin(), fields.shape.end(), [](std::uint64_t n) { return n > 1; });
  if (fields.fortran && counted > 1) return bad_input(file, "is in Fortran order; save numpy.ascontiguousarray of it");
  info.shape = std::move(fields.shape);
  const std::uint64_t present = file_bytes - info.data_offset;
  std::uint64_t items = 1;
  bool too_large = false;
  for (const std::uint64_t n : info.shape) {
    if (n != 0 && items > ~std::uint64_t{0} / n) too_large = true;
    items *= n;
  }
  if (std::find(info.shape.begin(), info.shape.end(), 0U) != info.shape.end()) {
    items = 0;
    too_large = false;
  }
  const auto item_bytes = static_cast<std::uint64_t>(info.item_bytes);
  if (too_large || items > ~std::uint64_t{0} / item_bytes)
    return bad_input(file, "the shape's product is beyond 64 bits");
  if (items * item_bytes != present) {
    return bad_input(file, "the shape needs " + std::to_string(items * item_bytes) + " bytes of data, but there are " +
                               std::to_string(present) + "; the file is cut off or has bytes left over");
  }
  return info;
}

struct NpyFile::Impl {
  int fd = -1;
  std::string file;
  NpyInfo info;
  std::uint64_t items = 0;
  Impl() = default;
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
  ~Impl() {
    if (fd >= 0) ::close(fd);
  }
};

NpyFile::NpyFile(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
NpyFile::NpyFile(NpyFile&&) noexcept = default;
NpyFile& NpyFile::operator=(NpyFile&&) noexcept = default;
NpyFile::~NpyFile() = default;
const NpyInfo& NpyFile::info() const { return impl_->info; }

Result<NpyFile> NpyFile::open(const std::filesystem::path& path) {
  auto impl = std::make_unique<Impl>();
  impl->file = path.string();
  impl->fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (impl->fd < 0) return bad_input(impl->file, std::string("cannot be read: ") + std::strerror(errno));
  struct stat status {};
  if (::fstat(impl->fd, &status) != 0 || !S_ISREG(status.st_mode))
    return bad_input(impl->file, "is not a regular file");
  const auto size = static_cast<std::uint64_t>(status.st_size);
  std::string head(std::min<std::uint64_t>(size, 4096), '\0');
  const auto fill = [&](std::size_t from) {
    return read_at(impl->fd, reinterpret_cast<std::byte*>(head.data()) + from, head.size() - from, from);
  };
  bool whole = fill(0);
  if (whole && head.size() >= 12) {  // the rare long header
    const std::size_t prefix = head[6] == 1 ? 10 : 12;
    const std::uint64_t need =
        std::min({size, kNpyHeadLimit, prefix + little_endian(std::string_view(head).substr(8, prefix - 8))});
    if (need > head.size()) {
      const std::size_t had = head.size();
      head.resize(need);
      whole = fill(had);
    }
  }
  if (!whole) return bad_input(impl->file, "changed while it was read");
  Result<NpyInfo> info = parse_npy_info(head, size, impl->file);
  if (!info) return info.error();
  impl->info = std::move(*info);
  impl->items = (size - impl->info.data_offset) / static_cast<std::uint64_t>(impl->info.item_bytes);
  return NpyFile(std::move(impl));
}

Result<void> NpyFile::read(std::uint64_t first, std::span<double> out, const Executor& executor) const {
  const Impl& file = *impl_;
  if (first > file.items || out.size() > file.items - first)
    return bad_input(file.file, "the range lies outside of the array");
  const auto item_bytes = static_cast<std::size_t>(file.info.item_bytes);
  std::atomic<bool> whole = true;
  for_ranges(executor, out.size(), kBlockBytes / item_bytes, [&](std::size_t begin, std::size_t end) {
    const std::uint64_t offset = file.info.data_offset + (first + begin) * item_bytes;
    const std::size_t bytes = (end - begin) * item_bytes;
    if (item_bytes == sizeof(double) && !file.info.big_endian) {
      if (!read_at(file.fd, reinterpret_cast<std::byte*>(out.data() + begin), bytes, offset)) whole = false;
      return;
    }
    std::array<std::byte, kBlockBytes> block;
    if (!read_at(file.fd, block.data(), bytes, offset)) {
      whole = false;
    } else if (item_bytes == sizeof(float)) {
      widen<std::uint32_t, float>(block.data(), end - begin, file.info.big_endian, out.data() + begin);
    } else {
      widen<std::uint64_t, double>(block.data(), end - begin, true, out.data() + begin);
    }
  });
  if (!whole) return bad_input(file.file, "became shorter while it was read");
  return {};
}

Result<NpyInfo> read_npy_info(const std::filesystem::path& path) {
  Result<NpyFile> file = NpyFile::open(path);
  if (!file) return file.error();
  return file->info();
}

}  // namespace trimtack
