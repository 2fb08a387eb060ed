// SPDX-License-Identifier: MIT
// Writes a combined export of any size in the demo coat's style, and frames of it, for benchmarks and limits:
//   make_export OUT.obj [--faces N] [--trims T] [--stitches S] [--seed K] [--full]
//               [--frames F --npy FILE.npy [--float32]] [--frames F --obj FOLDER]
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <string>
#include <type_traits>

#include "bench/stress_export.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"

using namespace trimtack;

namespace {

struct Request {
  std::string out, npy, folder;
  bench::StressOptions size;
  int frames = 0;
  bool float32 = false;
};

bool parse(int argc, char** argv, Request& request) {
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word == "--float32") {
      request.float32 = true;
    } else if (word == "--full") {
      request.size.full = true;
    } else if (word.rfind("--", 0) != 0) {
      if (!request.out.empty()) return false;
      request.out = word;
    } else if (++i >= argc) {
      return false;
    } else if (word == "--faces") {
      request.size.faces = std::strtoull(argv[i], nullptr, 10);
    } else if (word == "--trims") {
      request.size.trims = std::strtoull(argv[i], nullptr, 10);
    } else if (word == "--stitches") {
      request.size.stitches = std::strtoull(argv[i], nullptr, 10);
    } else if (word == "--seed") {
      request.size.seed = std::strtoull(argv[i], nullptr, 10);
    } else if (word == "--frames") {
      request.frames = std::atoi(argv[i]);
    } else if (word == "--npy") {
      request.npy = argv[i];
    } else if (word == "--obj") {
      request.folder = argv[i];
    } else {
      return false;
    }
  }
  return !request.out.empty();
}

bool write_mesh(const SourceMesh& mesh, const std::string& path) {
  std::ofstream out(path, std::ios::binary);
  const auto done = write_obj(mesh, {}, [&](std::string_view piece) -> Result<void> {
    if (!out.write(piece.data(), static_cast<std::streamsize>(piece.size())))
      return Error{ErrorCode::CannotWrite, "the file could not be written", path, 0};
    return {};
  });
  return done.has_value() && out.flush().good();
}

template <class Number>
bool write_npy(const SourceMesh& mesh, const Request& request) {
  std::ofstream out(request.npy, std::ios::binary);
  const std::uint64_t shape[] = {static_cast<std::uint64_t>(request.frames), mesh.positions.size(), 3};
  out << npy_header(shape, std::is_same_v<Number, double>);
  std::vector<Number> row(3 * mesh.positions.size());
  for (int f = 1; f <= request.frames; ++f) {
    for (std::size_t v = 0; v < mesh.positions.size(); ++v) {
      const Vec3 p = bench::stress_frame_vertex(mesh.positions[v], f, request.frames);
      for (int k = 0; k < 3; ++k) row[3 * v + static_cast<std::size_t>(k)] = static_cast<Number>(p[k]);
    }
    std::string bytes(row.size() * sizeof(Number), '\0');
    std::memcpy(bytes.data(), row.data(), bytes.size());
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  }
  return out.flush().good();
}

bool write_objs(const SourceMesh& mesh, const Request& request) {
  SourceMesh frame = mesh;
  for (int f = 1; f <= request.frames; ++f) {
    for (std::size_t v = 0; v < mesh.positions.size(); ++v)
      frame.positions[v] = bench::stress_frame_vertex(mesh.positions[v], f, request.frames);
    const std::string number = std::to_string(1000 + f).substr(1);
    if (!write_mesh(frame, request.folder + "/frame_" + number + ".obj")) return false;
  }
  return true;
}

}  // namespace

int main(int argc, char** argv) {
  Request request;
  if (!parse(argc, argv, request)) {
    std::fprintf(
        stderr,
        "make_export OUT.obj [--faces N] [--trims T] [--stitches S] [--seed K] [--full] [--frames F] [--npy FILE "
        "[--float32]] [--obj FOLDER]\n");
    return 2;
  }
  const bench::StressExport made = bench::make_stress(request.size);
  std::printf("%s: %u faces (%llu cloth), %zu vertices (%llu cloth), %llu trims, %llu stitches, %llu components\n",
              request.out.c_str(), made.mesh.face_count(), static_cast<unsigned long long>(made.cloth_faces),
              made.mesh.positions.size(), static_cast<unsigned long long>(made.cloth_vertices),
              static_cast<unsigned long long>(made.trims), static_cast<unsigned long long>(made.stitches),
              static_cast<unsigned long long>(made.components));
  bool good = write_mesh(made.mesh, request.out);
  if (good && !request.npy.empty())
    good = request.float32 ? write_npy<float>(made.mesh, request) : write_npy<double>(made.mesh, request);
  if (good && !request.folder.empty()) good = write_objs(made.mesh, request);
  if (!good) std::fprintf(stderr, "make_export: could not write\n");
  return good ? 0 : 4;
}
