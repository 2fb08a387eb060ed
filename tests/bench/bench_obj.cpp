// SPDX-License-Identifier: MIT
// Reading and writing OBJ against floors and peers, on a combined export of about a million faces made here.
//     bench_obj [--rounds N] [--digits D] [--trims N]
// Floors: reading the bytes; converting every number with std::from_chars and keeping none. Peers: tinyobjloader for
// reading; fprintf and std::to_chars for writing. Every contender reads from, or writes to, the same cached file.
#include <tiny_obj_loader.h>

#include <charconv>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>

#include "bench/bench.hpp"
#include "trimtack/io/obj.hpp"

namespace {

using namespace trimtack;

struct Settings {
  int rounds = 9;
  int digits = 6;
  int trims = 20000;
};

void print_line(std::string& out, const char* keyword, const double* n, int count, int digits) {
  out += keyword;
  char buffer[64];
  for (int i = 0; i < count; ++i) {
    out.append(buffer, static_cast<std::size_t>(std::snprintf(buffer, sizeof buffer, " %.*f", digits, n[i])));
  }
  out += '\n';
}

/// A wavy sheet of 505,000 triangles and `trims` little prisms of 24 faces, each its own group: v, vt and vn at every
/// vertex, coordinates in millimetres.
std::string make_export(const Settings& settings) {
  std::string out = "# combined export\nmtllib coat.mtl\no Coat\n";
  std::string faces;
  std::size_t vertices = 0;
  const auto vertex = [&](const Vec3& p, double u, double v, const Vec3& n) {
    print_line(out, "v", &p.x, 3, settings.digits);
    const double uv[2] = {u, v};
    print_line(out, "vt", uv, 2, settings.digits);
    print_line(out, "vn", &n.x, 3, settings.digits);
    return ++vertices;
  };
  const auto face = [&](std::initializer_list<std::size_t> corners) {
    faces += 'f';
    for (const std::size_t c : corners) {
      const std::string text = std::to_string(c);
      faces += ' ' + text + '/' + text + '/' + text;
    }
    faces += '\n';
  };
  constexpr int kSide = 503;
  faces += "g panel\nusemtl drill\ns 1\n";
  for (int j = 0; j < kSide; ++j) {
    for (int i = 0; i < kSide; ++i) {
      const double x = 1.7 * i;
      const double y = 1.7 * j;
      const double slope = 0.3 * std::cos(0.05 * x);
      const Vec3 normal = normalized({-slope, 0, 1});
      vertex({x, y, 6 * std::sin(0.05 * x)}, x / 1000, y / 1000, normal);
    }
  }
  for (std::size_t j = 0; j + 1 < kSide; ++j) {
    for (std::size_t i = 0; i + 1 < kSide; ++i) {
      const std::size_t a = j * kSide + i + 1;
      face({a, a + 1, a + kSide + 1});
      face({a, a + kSide + 1, a + kSide});
    }
  }
  for (int t = 0; t < settings.trims; ++t) {
    faces += "g trim_" + std::to_string(t) + "\nusemtl horn\n";
    const Vec3 centre{4.2 * (t % 200) + 3, 8.4 * (t / 200) + 3, 7};
    constexpr int kSectors = 8;
    const std::size_t first = vertices + 1;
    for (int i = 0; i < 2 * kSectors; ++i) {
      const double angle = 0.78539816339744831 * (i % kSectors) + 0.01 * t;
      const Vec3 out_ward{std::cos(angle), std::sin(angle), 0};
      vertex(centre + 1.5 * out_ward + Vec3{0, 0, i < kSectors ? 0.0 : 0.8}, angle / 7, i < kSectors ? 0.2 : 0.8,
             out_ward);
    }
    for (std::size_t i = 0; i < kSectors; ++i) {
      const std::size_t next = (i + 1) % kSectors;
      face({first + i, first + next, first + kSectors + next});
      face({first + i, first + kSectors + next, first + kSectors + i});
      if (i >= 2) face({first, first + i, first + i - 1});
    }
    face({first + 8, first + 9, first + 10, first + 11, first + 12, first + 13, first + 14, first + 15});
  }
  return out + faces;
}

/// Every number of v, vt, vn and f lines through std::from_chars, summed up.
double convert_all(const char* p, const char* end) {
  double sum = 0;
  std::uint64_t index_sum = 0;
  while (p < end) {
    const bool is_face = *p == 'f';
    if (!is_face && *p != 'v') {
      const void* stop = std::memchr(p, '\n', static_cast<std::size_t>(end - p));
      p = stop == nullptr ? end : static_cast<const char*>(stop) + 1;
      continue;
    }
    while (p < end && *p != '\n') {
      if ((*p >= '0' && *p <= '9') || *p == '-') {
        if (is_face) {
          std::uint32_t index = 0;
          p = std::from_chars(p, end, index).ptr;
          index_sum += index;
        } else {
          double value = 0;
          p = std::from_chars(p, end, value).ptr;
          sum += value;
        }
      } else {
        ++p;
      }
    }
    ++p;
  }
  return sum + static_cast<double>(index_sum);
}

std::string read_bytes(const std::string& path) {
  std::FILE* file = std::fopen(path.c_str(), "rb");
  std::string text(std::filesystem::file_size(path), '\0');
  if (std::fread(text.data(), 1, text.size(), file) != text.size()) std::abort();
  std::fclose(file);
  return text;
}

void write_bytes(const std::string& path, std::string_view bytes) {
  std::FILE* file = std::fopen(path.c_str(), "wb");
  if (std::fwrite(bytes.data(), 1, bytes.size(), file) != bytes.size()) std::abort();
  std::fclose(file);
}

void write_with_fprintf(const SourceMesh& mesh, const std::string& path) {
  std::FILE* file = std::fopen(path.c_str(), "wb");
  for (const Vec3& p : mesh.positions) std::fprintf(file, "v %.17g %.17g %.17g\n", p.x, p.y, p.z);
  for (const Vec2& t : mesh.texcoords) std::fprintf(file, "vt %.17g %.17g\n", t.x, t.y);
  for (const Vec3& n : mesh.normals) std::fprintf(file, "vn %.17g %.17g %.17g\n", n.x, n.y, n.z);
  for (Index f = 0; f < mesh.face_count(); ++f) {
    std::fputc('f', file);
    for (Index c = mesh.face_offsets[f]; c < mesh.face_offsets[f + 1]; ++c) {
      std::fprintf(file, " %u/%u/%u", mesh.corner_position[c] + 1, mesh.corner_texcoord[c] + 1,
                   mesh.corner_normal[c] + 1);
    }
    std::fputc('\n', file);
  }
  std::fclose(file);
}

void write_with_to_chars(const SourceMesh& mesh, const std::string& path) {
  std::FILE* file = std::fopen(path.c_str(), "wb");
  std::vector<char> buffer(std::size_t{1} << 20);
  char* p = buffer.data();
  const auto flush = [&](std::size_t room) {
    if (static_cast<std::size_t>(buffer.data() + buffer.size() - p) >= room) return;
    std::fwrite(buffer.data(), 1, static_cast<std::size_t>(p - buffer.data()), file);
    p = buffer.data();
  };
  const auto numbers = [&](const char* keyword, const double* n, int count) {
    flush(200);
    while (*keyword != '\0') *p++ = *keyword++;
    for (int i = 0; i < count; ++i) {
      *p++ = ' ';
      p = std::to_chars(p, p + 40, n[i]).ptr;
    }
    *p++ = '\n';
  };
  for (const Vec3& v : mesh.positions) numbers("v", &v.x, 3);
  for (const Vec2& t : mesh.texcoords) numbers("vt", &t.x, 2);
  for (const Vec3& n : mesh.normals) numbers("vn", &n.x, 3);
  for (Index f = 0; f < mesh.face_count(); ++f) {
    flush(4);
    *p++ = 'f';
    for (Index c = mesh.face_offsets[f]; c < mesh.face_offsets[f + 1]; ++c) {
      flush(64);
      const Index indices[3] = {mesh.corner_position[c] + 1, mesh.corner_texcoord[c] + 1, mesh.corner_normal[c] + 1};
      for (int k = 0; k < 3; ++k) {
        *p++ = k == 0 ? ' ' : '/';
        p = std::to_chars(p, p + 12, indices[k]).ptr;
      }
    }
    *p++ = '\n';
  }
  flush(buffer.size() + 1);
  std::fclose(file);
}

SourceMesh read_ours(const std::string& path, Executor executor) {
  ObjReadOptions options;
  options.executor = executor;
  Report report;
  Result<SourceMesh> mesh = read_obj(path, options, report);
  if (!mesh) std::abort();
  return std::move(*mesh);
}

bool bench_reading(const std::string& path, const Settings& settings) {
  bench::Threads two(2);
  const std::string ready = read_bytes(path);
  std::vector<bench::Contender> contenders{
      {"read the bytes", [&] { bench::keep(read_bytes(path)); }},
      {"from_chars over all numbers (text in memory)",
       [&] { bench::keep(convert_all(ready.data(), ready.data() + ready.size())); }, [&] { bench::bring_back(ready); }},
      {"tinyobjloader",
       [&] {
         tinyobj::attrib_t attributes;
         std::vector<tinyobj::shape_t> shapes;
         std::vector<tinyobj::material_t> materials;
         std::string warnings;
         std::string errors;
         std::ifstream stream(path, std::ios::binary);
         if (!tinyobj::LoadObj(&attributes, &shapes, &materials, &warnings, &errors, &stream, nullptr, false))
           std::abort();
         bench::keep(attributes);
       }},
      {"read_obj, 1 thread", [&] { bench::keep(read_ours(path, {})); }},
      {"read_obj, 2 threads", [&] { bench::keep(read_ours(path, two.executor())); }}};
  bench::interleave(contenders, settings.rounds);
  bench::print_table("reading", contenders);
  const double one = bench::find(contenders, "read_obj, 1 thread").median();
  const double both = bench::find(contenders, "read_obj, 2 threads").median();
  const double bare = contenders[1].median();
  const double peer = contenders[2].median();
  bool met = bench::print_bar("read_obj on 1 thread / bare from_chars pass", one / bare, true, 1.3);
  met = bench::print_bar("tinyobjloader / read_obj on 1 thread", peer / one, false, 3) && met;
  return bench::print_bar("tinyobjloader / read_obj on 2 threads", peer / both, false, 5) && met;
}

bool bench_writing(const std::string& path, const std::string& target, const Settings& settings) {
  bench::Threads two(2);
  const SourceMesh mesh = read_ours(path, two.executor());
  const auto ours = [&](bool splice, Executor executor) {
    ObjWriteOptions options;
    options.splice = splice;
    options.executor = executor;
    std::FILE* file = std::fopen(target.c_str(), "wb");
    std::setvbuf(file, nullptr, _IONBF, 0);
    const Result<void> done = write_obj(mesh, options, [&](std::string_view piece) -> Result<void> {
      if (std::fwrite(piece.data(), 1, piece.size(), file) != piece.size()) std::abort();
      return {};
    });
    if (!done) std::abort();
    std::fclose(file);
  };
  const std::string ready = write_obj(mesh, {});
  std::vector<bench::Contender> contenders{{"write ready bytes", [&] { write_bytes(target, ready); }},
                                           {"fprintf", [&] { write_with_fprintf(mesh, target); }},
                                           {"to_chars", [&] { write_with_to_chars(mesh, target); }},
                                           {"write_obj, formatted, 1 thread", [&] { ours(false, {}); }},
                                           {"write_obj, spliced, 1 thread", [&] { ours(true, {}); }},
                                           {"write_obj, spliced, 2 threads", [&] { ours(true, two.executor()); }}};
  bench::interleave(contenders, std::max(settings.rounds / 2, 3));
  bench::print_table("writing", contenders);
  const double peer = contenders[1].median();
  bool met = bench::print_bar("fprintf / write_obj spliced, 1 thread", peer / contenders[4].median(), false, 10);
  return bench::print_bar("fprintf / write_obj spliced, 2 threads", peer / contenders[5].median(), false, 10) && met;
}

}  // namespace

int main(int argc, char** argv) {
  Settings settings;
  for (int i = 1; i + 1 < argc; i += 2) {
    const int value = std::atoi(argv[i + 1]);
    if (std::strcmp(argv[i], "--rounds") == 0) settings.rounds = value;
    if (std::strcmp(argv[i], "--digits") == 0) settings.digits = value;
    if (std::strcmp(argv[i], "--trims") == 0) settings.trims = value;
  }
  const std::filesystem::path folder = std::filesystem::temp_directory_path() / "trimtack_bench_obj";
  std::filesystem::create_directories(folder);
  const std::string path = (folder / "combined.obj").string();
  write_bytes(path, make_export(settings));
  std::printf("combined export: %.1f MB, %d digits, %d trims, median of %d rounds\n",
              static_cast<double>(std::filesystem::file_size(path)) / 1e6, settings.digits, settings.trims,
              settings.rounds);
  const bool reading = bench_reading(path, settings);
  const bool writing = bench_writing(path, (folder / "written.obj").string(), settings);
  std::filesystem::remove_all(folder);
  return reading && writing ? 0 : 1;
}
