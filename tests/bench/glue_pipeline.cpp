// SPDX-License-Identifier: MIT
// The whole job as one would glue it together from libraries in an afternoon: tinyobjloader reads, a union-find splits,
// the size decides what a trim is, CGAL's box tree finds the closest cloth triangle, fprintf writes. A peer for
// bench_job, not part of the product: no seams, no layers, one triangle a trim, sizes in the unit of the file.
//   glue_pipeline IN.obj OUT_FOLDER
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/AABB_triangle_primitive.h>
#include <CGAL/Simple_cartesian.h>

#define TINYOBJLOADER_USE_DOUBLE
#define TINYOBJLOADER_IMPLEMENTATION
#include <tiny_obj_loader.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <numeric>
#include <string>
#include <thread>
#include <vector>

namespace {

using Kernel = CGAL::Simple_cartesian<double>;
using Triangle = Kernel::Triangle_3;
using Primitive = CGAL::AABB_triangle_primitive<Kernel, std::vector<Triangle>::const_iterator>;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<Kernel, Primitive>>;

constexpr double kLargestTrim = 60;  // mm

struct Face {
  std::size_t first = 0;
  int corners = 0;
  int material = -1;
  int component = 0;
};

struct Component {
  std::array<double, 3> low{1e300, 1e300, 1e300}, high{-1e300, -1e300, -1e300};
  bool trim = false;
};

struct Binding {
  int component = 0;
  std::array<int, 3> vertices{};
  std::array<double, 3> weights{};
  std::array<double, 12> frame{};
};

struct Garment {
  tinyobj::ObjReader reader;
  std::vector<tinyobj::index_t> corners;
  std::vector<Face> faces;
  std::vector<Component> components;
  std::vector<std::array<int, 3>> cloth;  // triangles
  std::vector<Binding> bindings;
};

int root_of(std::vector<int>& parent, int v) {
  while (parent[v] != v) v = parent[v] = parent[parent[v]];
  return v;
}

void collect_faces(Garment& garment) {
  for (const tinyobj::shape_t& shape : garment.reader.GetShapes()) {
    std::size_t corner = 0;
    for (std::size_t f = 0; f < shape.mesh.num_face_vertices.size(); ++f) {
      const int count = shape.mesh.num_face_vertices[f];
      garment.faces.push_back({garment.corners.size(), count, shape.mesh.material_ids[f], 0});
      for (int k = 0; k < count; ++k) garment.corners.push_back(shape.mesh.indices[corner++]);
    }
  }
}

void split(Garment& garment) {
  const std::vector<double>& v = garment.reader.GetAttrib().vertices;
  std::vector<int> parent(v.size() / 3);
  std::iota(parent.begin(), parent.end(), 0);
  for (const Face& face : garment.faces) {
    const int first = root_of(parent, garment.corners[face.first].vertex_index);
    for (int k = 1; k < face.corners; ++k) {
      parent[root_of(parent, garment.corners[face.first + k].vertex_index)] = first;
    }
  }
  std::vector<int> number(parent.size(), -1);
  for (Face& face : garment.faces) {
    int& id = number[root_of(parent, garment.corners[face.first].vertex_index)];
    if (id < 0) {
      id = static_cast<int>(garment.components.size());
      garment.components.emplace_back();
    }
    face.component = id;
    Component& component = garment.components[id];
    for (int k = 0; k < face.corners; ++k) {
      const int at = 3 * garment.corners[face.first + k].vertex_index;
      for (int axis = 0; axis < 3; ++axis) {
        component.low[axis] = std::min(component.low[axis], v[at + axis]);
        component.high[axis] = std::max(component.high[axis], v[at + axis]);
      }
    }
  }
  for (Component& component : garment.components) {
    double squared = 0;
    for (int axis = 0; axis < 3; ++axis) squared += std::pow(component.high[axis] - component.low[axis], 2);
    component.trim = std::sqrt(squared) < kLargestTrim;
  }
}

Kernel::Point_3 point(const Garment& garment, int vertex) {
  const double* p = &garment.reader.GetAttrib().vertices[3 * vertex];
  return {p[0], p[1], p[2]};
}

/// Barycentric weights of p in the triangle, and the frame of its first edge and normal.
Binding binding_of(const Garment& garment, int component, const std::array<int, 3>& t, const Kernel::Point_3& p) {
  const Kernel::Point_3 a = point(garment, t[0]);
  const Kernel::Vector_3 u = point(garment, t[1]) - a, w = point(garment, t[2]) - a, d = p - a;
  const Kernel::Vector_3 n = CGAL::cross_product(u, w);
  const double area = std::sqrt(n.squared_length()), along = std::sqrt(u.squared_length());
  Binding binding{component, t, {1, 0, 0}, {}};
  if (area == 0) return binding;
  const double second = CGAL::cross_product(d, w) * n / n.squared_length();
  const double third = CGAL::cross_product(u, d) * n / n.squared_length();
  binding.weights = {1 - second - third, second, third};
  const Kernel::Vector_3 x = u / along, z = n / area, y = CGAL::cross_product(z, x);
  binding.frame = {x.x(), x.y(), x.z(), y.x(), y.y(), y.z(), z.x(), z.y(), z.z(), p.x(), p.y(), p.z()};
  return binding;
}

void bind(Garment& garment) {
  std::vector<Triangle> triangles;
  for (const Face& face : garment.faces) {
    if (garment.components[face.component].trim) continue;
    for (int k = 2; k < face.corners; ++k) {
      const std::array<int, 3> t{garment.corners[face.first].vertex_index,
                                 garment.corners[face.first + k - 1].vertex_index,
                                 garment.corners[face.first + k].vertex_index};
      garment.cloth.push_back(t);
      triangles.emplace_back(point(garment, t[0]), point(garment, t[1]), point(garment, t[2]));
    }
  }
  Tree tree(triangles.cbegin(), triangles.cend());
  tree.build();
  tree.accelerate_distance_queries();
  for (std::size_t c = 0; c < garment.components.size(); ++c) {
    if (garment.components[c].trim) garment.bindings.push_back({static_cast<int>(c), {}, {}, {}});
  }
  const auto range = [&](std::size_t first, std::size_t last) {
    for (std::size_t i = first; i < last; ++i) {
      Binding& binding = garment.bindings[i];
      const Component& c = garment.components[binding.component];
      const Kernel::Point_3 middle((c.low[0] + c.high[0]) / 2, (c.low[1] + c.high[1]) / 2, (c.low[2] + c.high[2]) / 2);
      const auto found = tree.closest_point_and_primitive(middle);
      binding = binding_of(garment, binding.component, garment.cloth[found.second - triangles.cbegin()], found.first);
    }
  };
  const std::size_t half = garment.bindings.size() / 2;
  if (half == 0) return range(0, garment.bindings.size());
  std::thread second(range, half, garment.bindings.size());
  range(0, half);
  second.join();
}

void write_corner(std::FILE* out, const tinyobj::index_t& corner,
                  const std::array<const std::vector<int>*, 3>& number) {
  std::fprintf(out, " %d", (*number[0])[corner.vertex_index]);
  if (corner.texcoord_index >= 0) std::fprintf(out, "/%d", (*number[1])[corner.texcoord_index]);
  if (corner.normal_index >= 0) {
    std::fprintf(out, corner.texcoord_index >= 0 ? "/%d" : "//%d", (*number[2])[corner.normal_index]);
  }
}

/// The faces that are trims (or not), with what they use. @return the faces' numbers in the export
std::vector<int> write_part(const Garment& garment, bool trims, const std::filesystem::path& path) {
  std::FILE* out = std::fopen(path.c_str(), "w");
  if (out == nullptr) std::exit(3);
  const tinyobj::attrib_t& attrib = garment.reader.GetAttrib();
  std::vector<int> v(attrib.vertices.size() / 3), vt(attrib.texcoords.size() / 2), vn(attrib.normals.size() / 3), faces;
  int counts[3] = {0, 0, 0};
  for (std::size_t f = 0; f < garment.faces.size(); ++f) {
    const Face& face = garment.faces[f];
    if (garment.components[face.component].trim != trims) continue;
    faces.push_back(static_cast<int>(f));
    for (int k = 0; k < face.corners; ++k) {
      const tinyobj::index_t& corner = garment.corners[face.first + k];
      if (int& i = v[corner.vertex_index]; i == 0) {
        i = ++counts[0];
        const double* p = &attrib.vertices[3 * corner.vertex_index];
        std::fprintf(out, "v %.17g %.17g %.17g\n", p[0], p[1], p[2]);
      }
      if (corner.texcoord_index >= 0 && vt[corner.texcoord_index] == 0) {
        vt[corner.texcoord_index] = ++counts[1];
        const double* p = &attrib.texcoords[2 * corner.texcoord_index];
        std::fprintf(out, "vt %.17g %.17g\n", p[0], p[1]);
      }
      if (corner.normal_index >= 0 && vn[corner.normal_index] == 0) {
        vn[corner.normal_index] = ++counts[2];
        const double* p = &attrib.normals[3 * corner.normal_index];
        std::fprintf(out, "vn %.17g %.17g %.17g\n", p[0], p[1], p[2]);
      }
    }
  }
  int material = -2;
  for (const int f : faces) {
    const Face& face = garment.faces[f];
    if (face.material != material) {
      material = face.material;
      std::fprintf(out, "usemtl %s\n", material < 0 ? "none" : garment.reader.GetMaterials()[material].name.c_str());
    }
    std::fprintf(out, "f");
    for (int k = 0; k < face.corners; ++k) write_corner(out, garment.corners[face.first + k], {&v, &vt, &vn});
    std::fprintf(out, "\n");
  }
  std::fclose(out);
  return faces;
}

void write_tables(const Garment& garment, const std::vector<int>& trim_faces, const std::filesystem::path& folder) {
  std::FILE* json = std::fopen((folder / "bindings.json").c_str(), "w");
  std::FILE* csv = std::fopen((folder / "bindings.csv").c_str(), "w");
  if (json == nullptr || csv == nullptr) std::exit(3);
  std::fprintf(json, "{\"faces\": [");
  for (const int f : trim_faces) std::fprintf(json, "[%d, %d],", f, garment.faces[f].component);
  std::fprintf(json, "[]],\n\"bindings\": [\n");
  for (const Binding& b : garment.bindings) {
    std::fprintf(json, "{\"trim\": %d, \"vertices\": [%d, %d, %d], \"weights\": [%.17g, %.17g, %.17g], \"frame\": [",
                 b.component, b.vertices[0], b.vertices[1], b.vertices[2], b.weights[0], b.weights[1], b.weights[2]);
    std::fprintf(csv, "%d,%d,%d,%d,%.17g,%.17g,%.17g", b.component, b.vertices[0], b.vertices[1], b.vertices[2],
                 b.weights[0], b.weights[1], b.weights[2]);
    for (std::size_t k = 0; k < b.frame.size(); ++k) {
      std::fprintf(json, k == 0 ? "%.17g" : ", %.17g", b.frame[k]);
      std::fprintf(csv, ",%.17g", b.frame[k]);
    }
    std::fprintf(json, "]},\n");
    std::fprintf(csv, "\n");
  }
  std::fprintf(json, "{}]}\n");
  std::fclose(json);
  std::fclose(csv);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  Garment garment;
  tinyobj::ObjReaderConfig config;
  config.triangulate = false;
  config.vertex_color = false;
  if (!garment.reader.ParseFromFile(argv[1], config)) return 3;
  collect_faces(garment);
  split(garment);
  bind(garment);
  const std::filesystem::path folder = argv[2];
  std::filesystem::create_directories(folder);
  write_part(garment, false, folder / "cloth.obj");
  write_tables(garment, write_part(garment, true, folder / "trims.obj"), folder);
  std::printf("%zu bindings\n", garment.bindings.size());
  return 0;
}
